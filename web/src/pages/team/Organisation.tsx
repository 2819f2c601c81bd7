export function Organisation() {
  return null;
}
