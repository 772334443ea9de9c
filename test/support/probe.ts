// Small readings of media files for tests: what FFmpeg decodes, what FFprobe reports, in plain values.
// They know nothing of the product, so that a check through them is a second opinion.
import { resolve } from 'node:path';
import { execa } from 'execa';

const timeoutMs = 60_000;

/** The demuxers that tests may meet; playlists and scripts that name other files are not among them. */
const demuxers = 'mov,matroska,webm,mpegts,mpeg,avi,mxf,nut,wav,flac,ogg,png_pipe';
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

export type ProbeReport = {
  readonly format: ProbeFields;
  readonly streams: readonly ProbeFields[];
};

/** Streams and format. */
export async function probe(path: string): Promise<ProbeReport> {
  return (await probeJson(path, ['-show_format', '-show_streams'])) as unknown as ProbeReport;
}

/** Frames of one stream as FFprobe decodes them, at most `limit` packets' worth. */
export async function probeFrames(path: string, { stream = 'v:0', limit = 0 } = {}): Promise<ProbeFields[]> {
  const interval = limit === 0 ? [] : ['-read_intervals', `%+#${limit}`];
  const report = await probeJson(path, ['-select_streams', stream, ...interval, '-show_frames']);
  return report['frames'] as unknown as ProbeFields[];
}

export type Packet = {
  readonly ptsTicks: number | undefined;
  readonly dtsTicks: number | undefined;
  readonly keyframe: boolean;
  readonly bytes: number;
};

/** Packets of one stream in file order. */
export async function readPackets(path: string, stream = 'v:0'): Promise<Packet[]> {
  const report = await probeJson(path, ['-select_streams', stream, '-show_packets']);
  return (report['packets'] as unknown as ProbeFields[]).map((packet) => ({
    ptsTicks: ticks(packet['pts']),
    dtsTicks: ticks(packet['dts']),
    keyframe: typeof packet['flags'] === 'string' && packet['flags'].startsWith('K'),
    bytes: Number(packet['size']),
  }));
}

/** What a bitstream filter leaves or logs, for looking below the packets; `stdout` holds framemd5 lines. */
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
