/** A grid of cells: where the keys lead, and what a spreadsheet pastes. No DOM. */

export interface Place {
  row: number;
  column: number;
}

export interface Size {
  rows: number;
  columns: number;
}

const PAGE_ROWS = 5;

/** Where a key leads from a cell; null when the key is none of the grid's. */
export function keyLeads(from: Place, key: string, isCtrl: boolean, size: Size): Place | null {
  const { row, column } = from;
  const lead: Readonly<Record<string, Place>> = {
    ArrowUp: { row: row - 1, column },
    ArrowDown: { row: row + 1, column },
    ArrowLeft: { row, column: column - 1 },
    ArrowRight: { row, column: column + 1 },
    PageUp: { row: row - PAGE_ROWS, column },
    PageDown: { row: row + PAGE_ROWS, column },
    Home: { row: isCtrl ? 0 : row, column: 0 },
    End: { row: isCtrl ? size.rows - 1 : row, column: size.columns - 1 },
  };
  const to = lead[key];
  return to === undefined ? null : inside(to, size);
}

function inside(place: Place, size: Size): Place {
  return {
    row: Math.min(size.rows - 1, Math.max(0, place.row)),
    column: Math.min(size.columns - 1, Math.max(0, place.column)),
  };
}

/** One printable character: typing it replaces what the cell holds. */
export const isTyped = (key: string): boolean => /^[\d.,+-]$/.test(key);

/** Rows and columns of a pasted block; the empty line a spreadsheet adds at the end is dropped. */
export function pastedBlock(text: string): string[][] {
  const lines = text.split(/\r\n|\r|\n/);
  while (lines.length > 0 && lines.at(-1)?.trim() === "") lines.pop();
  return lines.map((line) => line.split("\t").map((cell) => cell.trim()));
}
