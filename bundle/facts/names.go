package facts

import (
	"path"
	"strings"
)

// PackName is a name that a bundle would hold and that some system could not store as it is.
type PackName struct {
	Path    string `json:"path"`           // in the bundle, below its top folder; "" for the top folder itself
	Kind    string `json:"kind"`           // "name-twin", "name-reserved", …: the kinds of package archive
	Text    string `json:"text"`           // what is wrong and, where that is not plain, what to do
	File    string `json:"file,omitempty"` // the file of the design behind it
	Variant string `json:"variant"`        // in the bundle of this variant
}

// Reports reports whether a file of a design is where the tool keeps what builders wrote to the maker: words and names
// of other people, which never go out.
func Reports(file string) bool { return strings.EqualFold(path.Base(file), "reports.jsonl") }
