// Takes a source through the real tasks up to the join, by two attempts, so that there is a seam in the middle.
import type { HouseFormat } from '#shared/house-format.ts';
import { grainCount, type Plan } from '#shared/plan.ts';
import type { CheckTask, GrainReport, GranaryFile, JoinTask } from '#shared/task.ts';
import { encodeSegment } from '../../../agent/tasks/encode-segment.ts';
import { encodeSound } from '../../../agent/tasks/encode-sound.ts';
import { encodeTaskFor, type PlannedSource, planFile } from './plan-source.ts';
import type { TaskWorld } from './task-world.ts';

export type Film = PlannedSource & {
  readonly joinTask: JoinTask;
  checkTask(joined: GranaryFile): CheckTask;
};

type StoredGrain = GrainReport & { readonly attempt: number };

/** `source`: a media file, copied into the volume `media:`. Grains are a second long. */
export async function makeFilm(world: TaskWorld, source: string, format: HouseFormat): Promise<Film> {
  const planned = await planFile(world, source, format);
  const { facts, plan } = planned;
  const grains: StoredGrain[] = [];
  for (const { first, end, attempt } of halves(plan)) {
    await encodeSegment(encodeTaskFor(planned, { first, end }, attempt), {
      ...world.context,
      report: {
        progress: async () => ({ proceed: true, end }),
        grain: async (grain) => {
          grains.push({ ...grain, attempt });
          return { proceed: true, end };
        },
      },
    });
  }
  const { jobId, source: of, track } = encodeTaskFor(planned, { first: 0, end: 1 });
  const common = { jobId, source: of, facts, format, plan };
  const sound =
    plan.sound.length === 0
      ? []
      : (
          await encodeSound(
            {
              kind: 'sound',
              jobId,
              attempt: 4,
              source: of,
              track,
              tracks: plan.sound,
              wrapper: format.wrapper,
            },
            world.context,
          )
        ).tracks;
  return {
    ...planned,
    joinTask: {
      ...common,
      kind: 'join',
      attempt: 5,
      sound,
      grains: grains.map(({ file, bytes, hash, frames }) => ({ file, bytes, hash, frames })),
    },
    checkTask: (joined) => ({
      ...common,
      kind: 'check',
      attempt: 6,
      joined,
      grains: grains.map((grain) => checkedGrain(grain, plan)),
    }),
  };
}

function checkedGrain(
  { index, frames, attempt, firstPicture, nextPicture }: StoredGrain,
  plan: Plan,
): CheckTask['grains'][number] {
  const first = index * plan.grainFrames;
  return { first, end: first + frames, attempt, firstPicture, nextPicture };
}

/** Two segments that meet at a grain border; one when there is a single grain or the source can't be split. */
function halves(plan: Plan): { attempt: number; first: number; end: number }[] {
  const middle = Math.floor(grainCount(plan) / 2) * plan.grainFrames;
  if (middle === 0 || plan.wholeBecause !== null) return [{ attempt: 2, first: 0, end: plan.frames }];
  return [
    { attempt: 2, first: 0, end: middle },
    { attempt: 3, first: middle, end: plan.frames },
  ];
}
