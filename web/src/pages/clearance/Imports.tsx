export function Imports() {
  return null;
}
