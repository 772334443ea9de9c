// Figures as people read them.

/** `52 s`, `4 min 05 s`, `3 h 07 min`; whole seconds. */
export function formatDuration(seconds: number): string {
  const whole = Math.max(0, Math.round(seconds));
  if (whole < 60) return `${whole} s`;
  if (whole < 3600) return `${Math.floor(whole / 60)} min ${twoDigits(whole % 60)} s`;
  const minutes = Math.round(whole / 60);
  return `${Math.floor(minutes / 60)} h ${twoDigits(minutes % 60)} min`;
}

/** Powers of 1000, as the units say: `1.4 GB`. */
export function formatBytes(bytes: number): string {
  const units = ['B', 'kB', 'MB', 'GB', 'TB', 'PB'];
  let value = bytes;
  let unit = 0;
  while (value >= 999.5 && unit < units.length - 1) {
    value /= 1000;
    unit += 1;
  }
  return `${unit === 0 || value >= 99.5 ? Math.round(value) : value.toFixed(1)} ${units[unit]}`;
}

export function formatRate(framesPerSecond: number): string {
  return `${framesPerSecond >= 99.5 ? Math.round(framesPerSecond) : framesPerSecond.toFixed(1)} frames/s`;
}

/** A moment as this machine's clock shows it: `2026-01-31 04:05`. */
export function formatMoment(iso: string): string {
  const at = new Date(iso);
  const day = `${at.getFullYear()}-${twoDigits(at.getMonth() + 1)}-${twoDigits(at.getDate())}`;
  return `${day} ${twoDigits(at.getHours())}:${twoDigits(at.getMinutes())}`;
}

/** `1 job`, `3 jobs`. */
export function count(number: number, one: string, many = `${one}s`): string {
  return `${number} ${number === 1 ? one : many}`;
}

function twoDigits(number: number): string {
  return String(number).padStart(2, '0');
}
