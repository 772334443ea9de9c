// Taking a submission: everything that can be said against it is said before it is accepted; once accepted it is in
// the ledger. Sources are looked at, never opened for writing (N5).
import { MillError } from '#shared/errors.ts';
import { type HouseFormat, reportSuffix, wrapperExtensions } from '#shared/house-format.ts';
import type { Submission } from '#shared/job.ts';
import {
  formatVolumePath,
  joinVolumePath,
  parseVolumePath,
  stemOf,
  type VolumePath,
} from '#shared/volume-path.ts';
import type { IdempotencyKey, Intake } from '../api/api-ports.ts';
import type { JobBook } from '../ledger/job-book.ts';
import type { JobRecord } from '../state/job-record.ts';
import { checkDestination, findSource, type VolumeRoots } from './volume-files.ts';

export type IntakeParts = {
  readonly book: JobBook;
  readonly formats: readonly HouseFormat[];
  readonly volumes: VolumeRoots;
  readonly newJobId: () => string;
  /** Codecs that the machines which are there can encode; null while none is there. */
  readonly codecsOnFarm: () => ReadonlySet<string> | null;
  readonly wake: () => void;
};

export function createIntake(parts: IntakeParts): Intake {
  return {
    async submit(submission, batchId, key) {
      const earlier = key === null ? null : earlierJob(parts.book, key);
      if (earlier !== null) return earlier;
      const format = findFormat(parts.formats, submission.format);
      const source = await findSource(parts.volumes, parseVolumePath(submission.source));
      requireLane(format, parts.codecsOnFarm());
      const deliverable = deliverablePath(submission, format);
      for (const path of filesDue(deliverable, format))
        await checkDestination(parts.volumes, path, submission.replace);
      // Others may have come in meanwhile; from here to the entry nothing is waited for.
      const twin = key === null ? null : earlierJob(parts.book, key);
      if (twin !== null) return twin;
      requireUnclaimed(parts.book, deliverable);
      const facts = parts.book.knownFacts(submission.source, source.bytes, source.modifiedMs);
      const record = parts.book.begin({
        id: parts.newJobId(),
        event: {
          type: 'received',
          batchId,
          submission,
          format,
          deliverable: formatVolumePath(deliverable),
          facts,
        },
        key,
      });
      parts.wake();
      return record;
    },
  };
}

function earlierJob(book: JobBook, { key, fingerprint }: IdempotencyKey): JobRecord | null {
  const found = book.findByKey(key);
  if (found === null) return null;
  if (found.fingerprint !== fingerprint) {
    throw new MillError(
      'key-reused',
      `Idempotency-Key ${JSON.stringify(key)} belongs to another request; use a new key for a new job`,
    );
  }
  return book.get(found.jobId);
}

function findFormat(formats: readonly HouseFormat[], name: string): HouseFormat {
  const found = formats.filter((format) => format.name === name).toSorted((a, b) => b.version - a.version)[0];
  if (found) return found;
  const names = [...new Set(formats.map((format) => format.name))].join(', ');
  throw new MillError(
    'unknown-format',
    `there is no house format ${JSON.stringify(name)}; there are ${names}`,
  );
}

function requireLane(format: HouseFormat, codecs: ReadonlySet<string> | null): void {
  if (codecs === null || codecs.has(format.picture.codec)) return;
  throw new MillError(
    'no-lane',
    `no machine on the farm can encode ${format.picture.codec}, which ${format.name} needs; see "nightmill lanes" for what failed`,
  );
}

/** Folder `to` and the format's name pattern. Throws MillError `bad-request` for a name that file systems can't hold. */
function deliverablePath(submission: Submission, format: HouseFormat): VolumePath {
  const stem = stemOf(parseVolumePath(submission.source).path);
  // In one go: a stem may hold braces of its own.
  const name = format.namePattern.replace(/\{(?:stem|format)\}/g, (field) =>
    field === '{stem}' ? stem : format.name,
  );
  const file = `${name}${wrapperExtensions[format.wrapper]}`;
  const longest = format.report === 'beside' ? `${file}${reportSuffix}` : file;
  if (new TextEncoder().encode(longest).length > 255) {
    throw new MillError(
      'bad-request',
      `a name on the destination would have more than 255 bytes; shorten the source's name ${JSON.stringify(stem)}`,
    );
  }
  return joinVolumePath(parseVolumePath(submission.to), file);
}

/** The deliverable, and the report where the format wants one beside it. */
function filesDue(deliverable: VolumePath, format: HouseFormat): VolumePath[] {
  const report = { ...deliverable, path: `${deliverable.path}${reportSuffix}` };
  return format.report === 'beside' ? [deliverable, report] : [deliverable];
}

function requireUnclaimed(book: JobBook, deliverable: VolumePath): void {
  const path = formatVolumePath(deliverable);
  const other = book.working().find((record) => record.deliverable === path);
  if (other)
    throw new MillError(
      'destination-exists',
      `job ${other.id} is already making ${path}; wait for it, or deliver to another folder`,
    );
}
