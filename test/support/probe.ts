// Small readings of media files for tests: what FFmpeg decodes, what FFprobe reports, in plain values.
// They know nothing of the product, so that a check through them is a second opinion.
import { resolve } from 'node:path';
import { execa } from 'execa';

const timeoutMs = 60_000;

/** The demuxers that tests may meet; playlists and scripts that name other files are not among them. */
const demuxers = 'mov,matroska,webm,mpegts,mpeg,avi,mxf,nut,flv,asf,dv,yuv4mpegpipe,wav,flac,ogg,png_pipe';
const guards = ['-protocol_whitelist', 'file', '-format_whitelist', demuxers, '-max_pixels', '67108864'];

/** One decoded picture as FFmpeg handed it out. */
export type DecodedPicture = {
  /** Presentation time in ticks of the stream's clock (its `time_base`), as stored in the file. */
  readonly ptsTicks: number;
  readonly md5: string;
};

/** Keep the file's own times and clock, and every picture once. */
const untouched = ['-fps_mode', 'passthrough', '-enc_time_base', '-1'];

export type DecodeOptions = {
  /** FFmpeg stream specifier; the first picture track if absent. */
  readonly stream?: string;
  /** Options before the input, such as `-ss 2.5` or `-noautorotate`. */
  readonly inputOptions?: readonly string[];
  /** Options after the input, such as `-frames:v 10` or `-vf scale=160:90`. */
  readonly outputOptions?: readonly string[];
};

/** Every picture that a decoder gives, in order, none added or dropped. Rejects if FFmpeg fails. */
export async function decodePictures(path: string, options: DecodeOptions = {}): Promise<DecodedPicture[]> {
  const stream = options.stream ?? 'v:0';
  const input = ['-copyts', ...(options.inputOptions ?? []), ...guards, '-i', fileUrl(path)];
  const output = ['-map', `0:${stream}`, ...untouched, ...(options.outputOptions ?? [])];
  const { stdout } = await execa(
    'ffmpeg',
    ['-nostdin', '-hide_banner', '-v', 'error', ...input, ...output, '-f', 'framemd5', 'pipe:1'],
    { timeout: timeoutMs },
  );
  return stdout
    .split('\n')
    .filter((line) => line !== '' && !line.startsWith('#'))
    .map(readPictureLine);
}

/** The hashes alone, for comparing two ways to the same pictures. */
export async function pictureHashes(path: string, options: DecodeOptions = {}): Promise<string[]> {
  return (await decodePictures(path, options)).map((picture) => picture.md5);
}

/** Fields of FFprobe's report as it prints them: numbers where JSON has numbers, otherwise strings. */
export type ProbeFields = {
  readonly [field: string]: string | number | ProbeFields | readonly ProbeFields[] | undefined;
};

/** A field as text; throws where FFprobe didn't print it. */
export function textField(owner: ProbeFields, name: string): string {
  const value = owner[name];
  if (typeof value !== 'string' && typeof value !== 'number') {
    throw new Error(`FFprobe printed no ${name}`);
  }
  return String(value);
}

export type ProbeReport = {
  readonly format: ProbeFields;
  readonly streams: readonly ProbeFields[];
  readonly frames: readonly ProbeFields[];
};

/** Streams, format and the decoded frames of all streams in the file's first second. */
export async function probe(path: string): Promise<ProbeReport> {
  const options = ['-show_format', '-show_streams', '-read_intervals', '%+1', '-show_frames'];
  return (await probeJson(path, options)) as unknown as ProbeReport;
}

export type Packet = {
  readonly ptsTicks: number | undefined;
  readonly dtsTicks: number | undefined;
  readonly keyframe: boolean;
  readonly bytes: number;
};

/** Packets of one stream in file order. */
export async function readPackets(
  path: string,
  { stream = 'v:0', inputOptions = [] }: Pick<DecodeOptions, 'stream' | 'inputOptions'> = {},
): Promise<Packet[]> {
  const report = await probeJson(path, [...inputOptions, '-select_streams', stream, '-show_packets']);
  return (report['packets'] as unknown as ProbeFields[]).map((packet) => ({
    ptsTicks: ticks(packet['pts']),
    dtsTicks: ticks(packet['dts']),
    keyframe: typeof packet['flags'] === 'string' && packet['flags'].startsWith('K'),
    bytes: Number(packet['size']),
  }));
}

/** Packets that a bitstream filter leaves, and what it logs: for looking below a stream's packets. */
export async function filterBitstream(
  path: string,
  filter: string,
): Promise<{ packets: number; log: string }> {
  const args = ['-nostdin', '-hide_banner', ...guards, '-i', fileUrl(path), '-map', '0:v:0', '-c', 'copy'];
  const { stdout, stderr } = await execa('ffmpeg', [...args, '-bsf:v', filter, '-f', 'framemd5', 'pipe:1'], {
    timeout: timeoutMs,
  });
  return { packets: stdout.split('\n').filter((line) => /^\d/.test(line)).length, log: stderr };
}

async function probeJson(path: string, options: readonly string[]): Promise<ProbeFields> {
  const { stdout } = await execa(
    'ffprobe',
    ['-hide_banner', '-v', 'error', ...guards, '-of', 'json', ...options, fileUrl(path)],
    { timeout: timeoutMs, stdin: 'ignore' },
  );
  return JSON.parse(stdout) as ProbeFields;
}

/** `stream, dts, pts, duration, size, hash` */
function readPictureLine(line: string): DecodedPicture {
  const [, , pts, , , md5] = line.split(',').map((field) => field.trim());
  if (pts === undefined || md5 === undefined) {
    throw new Error(`Not a line of framemd5: ${line}`);
  }
  return { ptsTicks: Number(pts), md5 };
}

function ticks(field: ProbeFields[string]): number | undefined {
  return field === undefined ? undefined : Number(field);
}

/** The prefix keeps a name such as `concat:a|b` from being read as a protocol. */
function fileUrl(path: string): string {
  return `file:${resolve(path)}`;
}
