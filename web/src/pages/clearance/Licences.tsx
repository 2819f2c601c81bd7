export function Licences() {
  return null;
}
