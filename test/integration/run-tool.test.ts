import { describe, expect, test } from 'vitest';
import { runTool } from '../../agent/tools/run-tool.ts';

const blackFrames = (count: number) => ['-f', 'lavfi', '-i', `color=s=16x16,trim=end_frame=${count}`];

function ffmpegRun(args: readonly string[], onLine: (line: string, stream: string) => void) {
  const { signal } = new AbortController();
  return runTool({
    tool: 'ffmpeg',
    args: ['-nostdin', '-hide_banner', ...args],
    signal,
    timeoutMs: 60_000,
    onLine,
  });
}

describe('runTool', () => {
  test('hands over every line of both streams, whole, and keeps standard output too', async () => {
    const lines: string[] = [];
    const result = await ffmpegRun([...blackFrames(3000), '-f', 'framecrc', '-'], (line, stream) => {
      if (stream === 'stdout') lines.push(line);
    });
    const pictures = lines.filter((line) => line.startsWith('0,'));
    expect(pictures).toHaveLength(3000);
    expect(new Set(pictures.map((line) => line.split(',').length))).toEqual(new Set([6]));
    expect(result.stdout.trim().split('\n')).toEqual(lines);
    expect(result).toMatchObject({ ok: true, endedBy: 'exit' });
  });

  test('tells of a line that its reader could not take, and ends the tool', async () => {
    const endless = ffmpegRun(['-re', ...blackFrames(100_000), '-f', 'framecrc', '-'], () => {
      throw new Error('a fault in reading');
    });
    await expect(endless).rejects.toThrow('a fault in reading');
  });

  test('a tool that fails is a result, with its last words', async () => {
    const result = await ffmpegRun(['-i', 'file:/not/there.mp4', '-f', 'null', '-'], () => undefined);
    expect(result).toMatchObject({ ok: false, endedBy: 'exit', exitCode: 1 });
    expect(result.stderrTail.join('\n')).toContain('No such file');
  });
});
