package check

import (
	"fmt"
	"path"

	"dropwright/bundle/facts"
)

// namesPortable: every name in a bundle can be stored on Windows, macOS and Linux, and no two become one there.
// It is said when a design is checked, not on the day it is to go out. Nor is anything named that never goes out.
func namesPortable(in *Input, r *report) {
	reportsStay(in, r)
	for _, n := range in.Facts.Unportable {
		at, hint := in.Design.At, "rename what is named here"
		for _, u := range in.Design.Files() {
			if n.File != "" && string(u.Path) == n.File {
				at, hint = u.At, fmt.Sprintf("rename %s, and write the new name here", path.Base(n.File))
				break
			}
		}
		text := "in the bundle: " + n.Text
		if n.Path != "" {
			text = n.Path + " " + text
		}
		r.add("bundle-name", at, n.Variant, text, hint)
	}
}

// reportsStay: what builders wrote to the maker never goes out.
func reportsStay(in *Input, r *report) {
	for _, u := range in.Design.Files() {
		if facts.Reports(string(u.Path)) {
			r.add("report-private", u.At, "", fmt.Sprintf("%s holds what builders wrote to you and must not go out", u.Path), "remove it from the manifest")
		}
	}
}
