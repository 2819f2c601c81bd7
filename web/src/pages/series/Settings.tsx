export function Settings() {
  return null;
}
