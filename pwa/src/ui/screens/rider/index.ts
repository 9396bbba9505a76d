import type { ComponentType } from "preact";

import { Bus } from "@/ui/screens/rider/bus.tsx";
import { Road } from "@/ui/screens/rider/road.tsx";
import { Weeks } from "@/ui/screens/rider/weeks.tsx";

export const routes: Record<string, ComponentType> = { road: Road, bus: Bus, weeks: Weeks };
