import type { ComponentChildren } from "preact";

interface ButtonProps {
  children: ComponentChildren;
  onPress: () => void;
  /** "act" is the one main act of a screen, "plain" any other, "quiet" a minor one in a line of text. */
  kind?: "act" | "plain" | "quiet";
  isDisabled?: boolean;
  isPressed?: boolean;
  label?: string;
}

export function Button({ children, onPress, kind = "plain", isDisabled = false, isPressed, label }: ButtonProps) {
  return (
    <button type="button" class={`button button-${kind}`} disabled={isDisabled} onClick={onPress} aria-pressed={isPressed} aria-label={label}>
      {children}
    </button>
  );
}
