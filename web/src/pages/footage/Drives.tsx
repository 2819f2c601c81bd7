export function Drives() {
  return null;
}
