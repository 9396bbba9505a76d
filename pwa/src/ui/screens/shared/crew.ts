import type { ComponentType } from "preact";

import { HandUp } from "@/ui/screens/shared/hand_up.tsx";
import { Returns } from "@/ui/screens/shared/returns.tsx";
import { Slate } from "@/ui/screens/shared/slate.tsx";
import { WeighRoom } from "@/ui/screens/shared/weigh_room.tsx";

export const routes: Record<string, ComponentType> = { "hand-up": HandUp, returns: Returns, slate: Slate, "weigh-room": WeighRoom };
