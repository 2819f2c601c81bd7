export function Episodes() {
  return null;
}
