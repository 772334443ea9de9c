// How a label that isn't as planned is told.

/** One sentence, or nothing when both agree. */
export function differs(what: string, found: string | null, due: string | null): string[] {
  return found === due ? [] : [`${what} is ${found ?? 'absent'} where ${due ?? 'none'} is due`];
}
