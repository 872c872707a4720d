"""Care of a workspace: what must hold, copies kept, reports looked at again."""
