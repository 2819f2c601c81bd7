export function Music() {
  return null;
}
