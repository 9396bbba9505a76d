/** The whole runtime of the compiled catalogues: choose a branch by the language's plural rule, or by a value. */

type Branches = Record<string, () => string | number>;

function run(branches: Branches, name: string): string {
  return String((branches[name] ?? branches["other"])?.() ?? "");
}

/** Bind the plural rules of one language; an exact "=2" goes before the rule. */
export function pluralOf(language: string): (n: number, branches: Branches) => string {
  const rules = new Intl.PluralRules(language);
  return (n, branches) => run(branches, branches[`=${n}`] === undefined ? rules.select(n) : `=${n}`);
}

/** Choose by a value instead of a number. */
export function choice(value: string | number, branches: Branches): string {
  return run(branches, String(value));
}
