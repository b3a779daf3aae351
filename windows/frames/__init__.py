"""Results as data frames: the commands' answers with types instead of text, and hours from one."""
