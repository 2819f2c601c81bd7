export function Days() {
  return null;
}
