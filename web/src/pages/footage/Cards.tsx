export function Cards() {
  return null;
}
