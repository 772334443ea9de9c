// Language codes. ISO 639-2 has two codes for some languages, and QuickTime knows only those of its own table.

/** Codes of the same language: ISO 639-2 bibliographic, terminological, ISO 639-1, and QuickTime's own spelling. */
const alike: readonly (readonly string[])[] = [
  ...[
    ['alb', 'sqi', 'sq'],
    ['arm', 'hye', 'hy'],
    ['baq', 'eus', 'eu'],
    ['bur', 'mya', 'my'],
    ['chi', 'zho', 'zh'],
  ],
  ...[
    ['cze', 'ces', 'cs'],
    ['dut', 'nld', 'nl'],
    ['fre', 'fra', 'fr'],
    ['geo', 'kat', 'ka'],
    ['ger', 'deu', 'de'],
  ],
  ...[
    ['gre', 'ell', 'el'],
    ['ice', 'isl', 'is'],
    ['mac', 'mkd', 'mk'],
    ['mao', 'mri', 'mi'],
    ['may', 'msa', 'ms'],
  ],
  ...[
    ['per', 'fas', 'fa'],
    ['rum', 'ron', 'ro'],
    ['slo', 'slk', 'sk'],
    ['tib', 'bod', 'bo'],
    ['wel', 'cym', 'cy'],
  ],
  ...[
    ['sve', 'swe', 'sv'],
    ['iri', 'gle', 'ga'],
    ['eng', 'en'],
    ['ita', 'it'],
    ['spa', 'es'],
    ['dan', 'da'],
  ],
  ...[
    ['por', 'pt'],
    ['nor', 'no'],
    ['fin', 'fi'],
    ['jpn', 'ja'],
    ['kor', 'ko'],
    ['rus', 'ru'],
    ['pol', 'pl'],
  ],
  ...[
    ['tur', 'tr'],
    ['hun', 'hu'],
    ['ara', 'ar'],
    ['heb', 'he'],
    ['hin', 'hi'],
    ['ukr', 'uk'],
    ['hrv', 'hr'],
    ['srp', 'sr'],
  ],
];

/** QuickTime's languages under ffmpeg's names; any other is lost without a word. Measured. */
const quicktime = new Set(
  (
    'eng fra ger ita dut sve spa dan por nor heb jpn ara fin gre ice mlt tur chi urd hin tha kor lit pol hun est lav rus ' +
    'iri alb ron ces slk slv yid mac bul ukr bel uzb kaz aze arm geo mol kir tgk tuk mon pus kur kas snd tib nep san mar ' +
    'ben asm guj ori mal kan tam tel sin bur khm lao vie ind tgl may amh tir orm som swa kin run mlg epo wel baq cat lat ' +
    'que grn aym tat uig dzo jav'
  ).split(' '),
);

export function languageFor(language: string, kept: 'quicktime' | 'three-letters'): string | null {
  const candidates = [language, ...(groupOf(language) ?? [])];
  const fits =
    kept === 'quicktime' ? (code: string) => quicktime.has(code) : (code: string) => /^[a-z]{3}$/.test(code);
  return candidates.find(fits) ?? null;
}

/** One code for all that mean the same language. */
export function canonicalLanguage(language: string): string {
  return groupOf(language)?.[0] ?? language;
}

function groupOf(language: string): readonly string[] | undefined {
  return alike.find((group) => group.includes(language));
}
