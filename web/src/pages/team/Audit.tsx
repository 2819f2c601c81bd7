export function Audit() {
  return null;
}
