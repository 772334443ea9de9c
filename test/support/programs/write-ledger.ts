// Opens the ledger in the folder given, begins jobs without end, and says each one's id once it is in the ledger.
import { openJobBook } from '../../../coordinator/ledger/open-job-book.ts';
import { receivedEvent } from '../job-builders.ts';

const [folder = ''] = process.argv.slice(2);
const book = openJobBook(folder, { clock: Date.now, reportFault: console.error });

function beginNext(index: number): void {
  const { id } = book.begin({
    id: `jnumber${String(index).padStart(6, '0')}`,
    event: receivedEvent(),
    key: null,
  });
  // The next one waits until this line is out, so that what was said was written before.
  process.stdout.write(`${id}\n`, () => beginNext(index + 1));
}

beginNext(0);
