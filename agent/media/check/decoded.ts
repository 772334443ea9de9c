// The checks `decodes` and `frame-count`: the whole film decodes by software without an error, to as many pictures as
// are due. A clean exit alone proves nothing: half a file decodes half the film and ends well.
import type { CheckResult } from '#shared/check.ts';
import { counted, listed, verdict } from './verdict.ts';

export type DecodedFacts = {
  readonly ok: boolean;
  readonly errors: readonly string[];
  readonly frames: number;
  readonly framesDue: number;
};

export function checkDecoded({ ok, errors, frames, framesDue }: DecodedFacts): CheckResult[] {
  return [
    verdict({
      name: 'decodes',
      ok,
      measured: listed(errors, 'the whole file, no error'),
      limit: 'picture and sound decode to their ends with no error',
    }),
    verdict({
      name: 'frame-count',
      ok: frames === framesDue,
      measured: `${counted(frames, 'picture')} decoded`,
      limit: counted(framesDue, 'picture'),
    }),
  ];
}
