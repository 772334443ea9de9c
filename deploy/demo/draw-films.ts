// The picture of the work: every film as a strip of its frames, each place marked by the machine that has it. A capital
// is stored for good, a small letter is leased, a dot belongs to nobody yet.
import { type Attempt, type FilmProgress, isAtRest, shareDone } from './film-progress.ts';
import type { DemoMachine } from './scenario.ts';

export type Drawing = {
  readonly title: string;
  readonly films: readonly FilmProgress[];
  readonly machines: readonly DemoMachine[];
  readonly elapsedSeconds: number;
  /** Letters that fit a line. */
  readonly columns: number;
};

const nobody = '·';

export function drawFilms({ title, films, machines, elapsedSeconds, columns }: Drawing): string[] {
  const strip = films.flatMap((film) => ['', headOf(film), `  ${drawStrip(film, machines, columns - 4)}`]);
  const works = machines.flatMap((machine) => [machineLine(machine, films)]);
  return [`  ${title}, ${formatSeconds(elapsedSeconds)}`, ...strip, '', ...works].map((line) =>
    line.slice(0, columns),
  );
}

/** `edit-proxy   encoding  64 %`, and who does what beside encoding. */
export function headOf(film: FilmProgress): string {
  const done = film.frames === null ? '' : `${Math.floor(100 * shareDone(film))} %`.padStart(5);
  const beside = film.attempts
    .filter(({ open, kind }) => open && kind !== 'encode')
    .map(({ kind, machine }) => `${kind} on ${machine}`);
  const rest = isAtRest(film) ? [] : beside;
  return [`  ${film.format.padEnd(12)} ${film.step.padEnd(10)}${done}`, ...rest].join('   ').trimEnd();
}

/** `width` letters, each for the frame in the middle of its share of the film. */
export function drawStrip(film: FilmProgress, machines: readonly DemoMachine[], width: number): string {
  const { frames } = film;
  if (frames === null) return '';
  const letters = new Map(machines.map(({ name, letter }) => [name, letter]));
  const makers = new Map(film.attempts.map(({ number, machine }) => [number, letters.get(machine) ?? '#']));
  const leases = film.attempts.filter(({ open, range }) => open && range !== null);
  return Array.from({ length: width }, (_, place) => {
    const frame = Math.floor(((place + 0.5) * frames) / width);
    const stored = film.stored.get(Math.floor(frame / film.grainFrames));
    if (stored !== undefined) return makers.get(stored);
    const lease = leases.find(({ range }) => range !== null && range.first <= frame && frame < range.end);
    return lease ? makers.get(lease.number)?.toLowerCase() : nobody;
  }).join('');
}

function machineLine({ name, letter, about }: DemoMachine, films: readonly FilmProgress[]): string {
  const work = films.flatMap((film) =>
    film.attempts
      .filter((attempt) => attempt.open && attempt.machine === name && attempt.range !== null)
      .map((attempt) => describeLease(film, attempt)),
  );
  return `  ${letter} ${name.padEnd(14)} ${work.length === 0 ? about : work.join(' and ')}`;
}

function describeLease({ format }: FilmProgress, { range, framesPerSecond }: Attempt): string {
  const speed =
    framesPerSecond === null ? '' : ` at ${framesPerSecond.toFixed(framesPerSecond < 10 ? 1 : 0)} frames/s`;
  return `${format} ${range?.first}–${(range?.end ?? 1) - 1}${speed}`;
}

/** `52 s`, `1 min 05 s`. */
export function formatSeconds(seconds: number): string {
  const whole = Math.max(0, Math.round(seconds));
  return whole < 60 ? `${whole} s` : `${Math.floor(whole / 60)} min ${String(whole % 60).padStart(2, '0')} s`;
}
