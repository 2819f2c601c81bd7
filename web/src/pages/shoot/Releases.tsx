export function Releases() {
  return null;
}
