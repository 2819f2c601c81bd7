export function Places() {
  return null;
}
