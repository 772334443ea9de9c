// Where the demo shows the work: a picture that is redrawn in place on a terminal; elsewhere a line for each step, and
// now and then the strips.
import { styleText } from 'node:util';
import { drawFilms, drawStrip, formatSeconds, headOf } from './draw-films.ts';
import type { FilmProgress } from './film-progress.ts';
import { film, machines } from './scenario.ts';

export type Screen = {
  show(films: readonly FilmProgress[], elapsedSeconds: number): void;
  /** Leaves the last picture standing; what is written next follows it. */
  end(): void;
};

const sparseSeconds = 20;
const sparseColumns = 72;
const colours = ['green', 'cyan', 'yellow'] as const;

export function openScreen(stream: NodeJS.WriteStream): Screen {
  return stream.isTTY ? drawnScreen(stream) : writtenScreen(stream);
}

function drawnScreen(stream: NodeJS.WriteStream): Screen {
  let drawn = 0;
  return {
    show(films, elapsedSeconds) {
      const lines = drawFilms({
        title: film.title,
        films,
        machines,
        elapsedSeconds,
        columns: stream.columns - 1,
      });
      // ECMA-48: up over the picture before, erase to the end of the screen.
      const back = drawn === 0 ? '' : `\u001B[${drawn}A\u001B[J`;
      stream.write(`${back}${lines.map((line) => colourLetters(line, stream)).join('\n')}\n`);
      drawn = lines.length;
    },
    end() {
      drawn = 0;
    },
  };
}

/** Every machine has a colour; strips are the lines of nothing but letters and dots, and machines' own lines begin with theirs. */
function colourLetters(line: string, stream: NodeJS.WriteStream): string {
  const letters = machines.map(({ letter }) => letter);
  const paint = (text: string) => {
    const colour = colours[letters.indexOf(text.charAt(0).toUpperCase()) % colours.length];
    return colour === undefined
      ? text
      : styleText(text === text.toUpperCase() ? ['bold', colour] : colour, text, { stream });
  };
  const strip = new RegExp(`^ {2}[${letters.join('')}·]+$`, 'i');
  if (strip.test(line)) return line.replaceAll(new RegExp(`([${letters.join('')}])\\1*`, 'gi'), paint);
  return line.replace(
    new RegExp(`^( {2})([${letters.join('')}]) `),
    (_, indent: string, letter: string) => `${indent}${paint(letter)} `,
  );
}

function writtenScreen(stream: NodeJS.WriteStream): Screen {
  const told = new Map<string, string>();
  let stripsAtSeconds = sparseSeconds;
  return {
    show(films, elapsedSeconds) {
      const stripsDue = elapsedSeconds >= stripsAtSeconds;
      if (stripsDue) stripsAtSeconds = elapsedSeconds + sparseSeconds;
      for (const one of films) {
        const isNews = told.get(one.jobId) !== one.step;
        told.set(one.jobId, one.step);
        const strip = stripsDue && one.step === 'encoding';
        if (isNews || strip) stream.write(`${formatSeconds(elapsedSeconds).padStart(10)}${headOf(one)}\n`);
        if (strip) stream.write(`            ${drawStrip(one, machines, sparseColumns)}\n`);
      }
    },
    end() {},
  };
}
