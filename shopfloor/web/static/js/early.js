// What takes long and needs nothing of the page is begun while the page is still being read.
import { openDatabase } from "./outbox/database.js";

openDatabase();
