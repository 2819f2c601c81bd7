export function Specifications() {
  return null;
}
