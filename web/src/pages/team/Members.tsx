export function Members() {
  return null;
}
