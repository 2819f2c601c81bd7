// The currency that a new amount most likely is in: the one that most licences name.
import { useRecords } from "../../api/records";
import { useSeriesId } from "../../app/series";

/** Three letters (ISO 4217); empty while nobody named any. */
export function useUsualCurrency(): string {
  const { data } = useRecords(useSeriesId(), "licences");
  return mostUsed((data ?? []).map((licence) => String(licence.currency ?? "")));
}

export function mostUsed(currencies: readonly string[]): string {
  const counts = new Map<string, number>();
  for (const one of currencies) if (one) counts.set(one, (counts.get(one) ?? 0) + 1);
  return [...counts].toSorted((a, b) => b[1] - a[1])[0]?.[0] ?? "";
}
