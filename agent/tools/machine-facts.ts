// What this machine is, as the coordinator shows it.
import os from 'node:os';

export type MachineFacts = { readonly platform: string; readonly cpu: string; readonly cores: number };

export function readMachineFacts(): MachineFacts {
  return {
    platform: `${process.platform}-${process.arch}`,
    cpu: os.cpus()[0]?.model.trim() ?? 'unknown',
    cores: os.availableParallelism(),
  };
}
