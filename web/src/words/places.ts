// Territory codes in words: ISO 3166-1 alpha-2, WORLD, and UN M.49 regions.
import { regions, territories } from "./territories";

const names = new Map<string, string>([
  ["WORLD", "the world"],
  ["001", "the world"],
  ["GB", "the UK"],
  ["US", "the US"],
  ...[...regions, ...territories]
    .filter(([code]) => code !== "GB" && code !== "US")
    .map(([code, name]) => [code, name] as const),
]);

export function territoryWord(code: string): string {
  return names.get(code) ?? code;
}

/** `the UK, Ireland` or `the world except Australia`. */
export function territoriesWords(codes: readonly string[], except: readonly string[] = []): string {
  if (codes.length === 0) return "nowhere yet";
  const base = codes.map(territoryWord).join(", ");
  return except.length === 0 ? base : `${base} except ${except.map(territoryWord).join(", ")}`;
}
