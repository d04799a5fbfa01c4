package check

import (
	"fmt"
	"strings"

	"dropwright/bundle/facts"
)

// privacy: files give away nothing about who made them beyond what the series says itself. Pictures and meshes
// are cleaned on their way into a bundle, so that what they tell is a warning; sources, texts and extras go out
// as they are, so that it is an error.
func privacy(in *Input, r *report) {
	done := map[string]bool{}
	for _, l := range in.Facts.Scan.Leaks {
		u, ok := in.use(l.File)
		if !ok {
			continue
		}
		code, hint := "", ""
		switch u.Kind {
		case "photo", "step picture":
			code, hint = "photo-private", "remove it with your picture program; the bundle gets a clean copy, the original stays as it is"
			if l.Kind == "position" {
				code = "photo-located"
			}
		case "mesh":
			code, hint = "mesh-private", "export it without, or as binary STL; the bundle gets a clean copy, the original stays as it is"
		default:
			code, hint = "file-private", "remove it from the file: sources and texts go out as they are"
		}
		if l.Kind == "name" || l.Kind == "email" {
			if public(in, l.Text) || u.Kind == "story" || u.Kind == "step text" { // what people read names whom it means to
				continue
			}
			code, hint = "name-private", "remove it from the file; if it is meant to be there, use_as_is: [{code: name-private, because: …}]"
		}
		k := code + "\x00" + l.File // the first of each kind and file: the hint mends them all
		if done[k] {
			continue
		}
		done[k] = true
		r.add(code, u.At, "", fmt.Sprintf("%s gives away: %s", l.File, told(l)), hint)
	}
}

// told says what a leak tells, without repeating a position.
func told(l facts.Leak) string {
	if l.Text == "" || l.Kind == "position" {
		return l.What
	}
	return fmt.Sprintf("%s, %q", l.What, l.Text)
}

// public reports whether a name or address is one that the series or the design names anyway.
func public(in *Input, text string) bool {
	low := strings.ToLower(text)
	for _, known := range append([]string{string(in.House.Maker.Name.V), string(in.House.Maker.URL.V), string(in.Design.Page.V)}, credited(in)...) {
		if k := strings.ToLower(known); k != "" && (strings.Contains(low, k) || len(low) > 3 && strings.Contains(k, low)) {
			return true
		}
	}
	return false
}

func credited(in *Input) []string {
	var out []string
	for _, c := range in.Design.Credits {
		if c.By.V != ownWork {
			out = append(out, string(c.By.V))
		}
	}
	return out
}
