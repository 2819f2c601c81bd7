export function SeriesToday() {
  return null;
}
