// Small lists come as an array or as `{items}`; both are read.
export function rowsOf<T>(answer: unknown): T[] {
  if (Array.isArray(answer)) return answer as T[];
  if (answer !== null && typeof answer === "object" && "items" in answer) {
    return (answer as { items: T[] }).items;
  }
  return [];
}
