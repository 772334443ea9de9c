// What the stream of changes tells of a job, put together: its step, who holds which frames, which grains are stored.
// Values only: each change makes the next one.

export type JobStep =
  | 'received'
  | 'inspected'
  | 'encoding'
  | 'joining'
  | 'checking'
  | 'delivered'
  | 'held'
  | 'failed'
  | 'cancelled';

/** One task of one machine. Encoding has a range of frames, `[first, end)`. */
export type Attempt = {
  readonly number: number;
  readonly kind: string;
  readonly machine: string;
  readonly range: { readonly first: number; readonly end: number } | null;
  /** Frames that went through its encoder. */
  readonly frames: number;
  readonly framesPerSecond: number | null;
  readonly open: boolean;
};

export type FilmProgress = {
  readonly jobId: string;
  readonly format: string;
  readonly step: JobStep;
  /** Null until the film was looked at. */
  readonly frames: number | null;
  readonly grainFrames: number;
  readonly attempts: readonly Attempt[];
  /** Grain → number of the attempt that made it. */
  readonly stored: ReadonlyMap<number, number>;
  /** ISO 8601. */
  readonly receivedAt: string;
  readonly changedAt: string;
  readonly reason: string | null;
};

/** As `change` events carry it. */
export type Change = {
  readonly jobId: string;
  readonly at: string;
  readonly type: string;
  readonly detail: Readonly<Record<string, string | number | boolean | null>>;
};

/** As `progress` events carry it. */
export type Speed = Pick<Attempt, 'frames' | 'framesPerSecond'> & {
  readonly jobId: string;
  readonly attempt: number;
};

export type Films = ReadonlyMap<string, FilmProgress>;

export function applyChange(films: Films, change: Change): Films {
  const film = change.type === 'received' ? beginFilm(change) : films.get(change.jobId);
  if (!film) return films;
  return new Map(films).set(change.jobId, { ...changed(film, change), changedAt: change.at });
}

export function applySpeed(films: Films, { jobId, attempt, frames, framesPerSecond }: Speed): Films {
  const film = films.get(jobId);
  if (!film) return films;
  return new Map(films).set(jobId, {
    ...film,
    attempts: withAttempt(film, attempt, { frames, framesPerSecond }),
  });
}

/** Share of the film that is encoded, 0–1: stored grains, and what open leases have beyond theirs. */
export function shareDone({ stored, grainFrames, frames, attempts }: FilmProgress): number {
  if (frames === null) return 0;
  const lengthOf = (grain: number) => Math.min(grainFrames, frames - grain * grainFrames);
  const storedBy = (wanted: number | null) =>
    [...stored].reduce(
      (sum, [grain, by]) => sum + (wanted === null || by === wanted ? lengthOf(grain) : 0),
      0,
    );
  const beyond = attempts.filter(({ open, range }) => open && range !== null);
  return (
    beyond.reduce((sum, one) => sum + Math.max(0, one.frames - storedBy(one.number)), storedBy(null)) / frames
  );
}

export function isAtRest({ step }: FilmProgress): boolean {
  return step === 'delivered' || step === 'held' || step === 'failed' || step === 'cancelled';
}

function beginFilm({ jobId, at, detail }: Change): FilmProgress {
  const nothing = { frames: null, grainFrames: 1, attempts: [], stored: new Map(), reason: null } as const;
  return {
    ...nothing,
    jobId,
    format: String(detail['format']),
    step: 'received',
    receivedAt: at,
    changedAt: at,
  };
}

function changed(film: FilmProgress, { type, detail }: Change): FilmProgress {
  const attempt = Number(detail['attempt']);
  const end = (patch: Partial<FilmProgress> = {}) => ({
    ...film,
    attempts: withAttempt(film, attempt, { open: false }),
    ...patch,
  });
  switch (type) {
    case 'planned':
    case 'replanned':
      return {
        ...film,
        step: 'inspected',
        frames: Number(detail['frames']),
        grainFrames: Number(detail['grainFrames']),
        stored: new Map(),
      };
    case 'opened':
      return opened(film, attempt, detail);
    case 'grain':
      return { ...film, stored: new Map(film.stored).set(Number(detail['grain']), attempt) };
    case 'lease-moved':
      return {
        ...film,
        attempts: film.attempts.map((one) =>
          one.number === attempt ? shortened(one, Number(detail['end'])) : one,
        ),
      };
    case 'ended':
      return end(detail['ok'] === true && detail['kind'] === 'deliver' ? { step: 'delivered' } : {});
    case 'lost':
    case 'stopped':
      return end();
    case 'remade':
      return {
        ...film,
        step: 'encoding',
        reason: String(detail['reason']),
        ...(detail['grains'] === null ? { stored: new Map() } : {}),
      };
    case 'held':
    case 'failed':
      return { ...film, step: type, reason: String(detail['reason']) };
    case 'cancelled':
      return { ...film, step: 'cancelled' };
    default:
      return film;
  }
}

const stepOfTask: Readonly<Record<string, JobStep>> = {
  encode: 'encoding',
  join: 'joining',
  check: 'checking',
  deliver: 'checking',
};

function opened(film: FilmProgress, number: number, detail: Change['detail']): FilmProgress {
  const { kind, machine, first, end } = detail;
  const range = typeof first === 'number' && typeof end === 'number' ? { first, end } : null;
  const nothing = { frames: 0, framesPerSecond: null, open: true } as const;
  const attempt: Attempt = { number, kind: String(kind), machine: String(machine), range, ...nothing };
  return { ...film, step: stepOfTask[String(kind)] ?? film.step, attempts: [...film.attempts, attempt] };
}

function withAttempt(film: FilmProgress, number: number, patch: Partial<Attempt>): readonly Attempt[] {
  return film.attempts.map((attempt) => (attempt.number === number ? { ...attempt, ...patch } : attempt));
}

function shortened(attempt: Attempt, end: number): Attempt {
  return attempt.range === null ? attempt : { ...attempt, range: { ...attempt.range, end } };
}
