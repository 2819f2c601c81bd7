export function Scenes() {
  return null;
}
