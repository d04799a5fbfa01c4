// Package source reads YAML text into a tree whose every value knows its place, and decodes such a tree
// strictly into typed values.
//
// It accepts the plain part of YAML 1.2: maps, lists, scalars, block texts. Anchors, aliases, merges, tags
// and second documents are refused: they let one line mean something written elsewhere and hostile files
// grow by them. Text stays as typed (1.10, 012, no); what a scalar means is decided by the type it is
// decoded into, never guessed from its look.
//
// Limits: 1 MiB, 32 levels, UTF-8. Positions count lines and bytes from 1.
package source
