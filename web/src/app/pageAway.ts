// A page's own program, fetched when it is first opened: without a connection it does not come, and after an update of the
// server the window asks for one that is no more.

export class PageAway extends Error {
  constructor(cause: unknown) {
    super("A page could not be fetched.", { cause });
    this.name = "PageAway";
  }
}

/** Says by its type what failed, so that the router does not reload the window into nothing. */
export const fetched = <T>(page: Promise<T>): Promise<T> =>
  page.catch((cause: unknown) => {
    throw new PageAway(cause);
  });
