import type { ComponentType } from "preact";

import { HandUp } from "@/ui/screens/shared/hand_up.tsx";
import { WeighRoom } from "@/ui/screens/shared/weigh_room.tsx";

export const routes: Record<string, ComponentType> = { "hand-up": HandUp, "weigh-room": WeighRoom };
