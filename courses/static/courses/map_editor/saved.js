import { forgetSent } from "./keep.js";

forgetSent();
