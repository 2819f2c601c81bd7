export function Deliverables() {
  return null;
}
