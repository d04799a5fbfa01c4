// Package templates holds the HTML, CSS and text of everything that people read, embedded in the program.
// It has no logic and imports nothing of ours; the package that fills a template documents its fields.
package templates

import "embed"

// FS holds the files by folder: sheet/ for the assembly sheet, compare/ for what changed, desk/ for the maker's pages,
// shelf/ for the readers' pages.
//
//go:embed sheet compare desk shelf
var FS embed.FS
