export function People() {
  return null;
}
