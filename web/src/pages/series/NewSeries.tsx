export function NewSeries() {
  return null;
}
