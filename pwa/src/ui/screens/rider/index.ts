import type { ComponentType } from "preact";

import { Bus } from "@/ui/screens/rider/bus.tsx";
import { Weeks } from "@/ui/screens/rider/weeks.tsx";

export const routes: Record<string, ComponentType> = { bus: Bus, weeks: Weeks };
