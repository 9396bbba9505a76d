import "@/ui/screens/coolbox/coolbox.css";

import type { ComponentType } from "preact";

import { Coolbox } from "@/ui/screens/coolbox/coolbox.tsx";

export const routes: Record<string, ComponentType> = { coolbox: Coolbox };
