// For talks with something that may never answer.

/** Rejects when `work` takes longer. What it does afterwards is nobody's concern. */
export async function withDeadline<Result>(work: Promise<Result>, timeoutMs: number): Promise<Result> {
  const { promise: late, reject } = Promise.withResolvers<never>();
  const timer = setTimeout(() => reject(new Error(`no answer within ${timeoutMs / 1000} s`)), timeoutMs);
  try {
    return await Promise.race([work, late]);
  } finally {
    clearTimeout(timer);
  }
}
