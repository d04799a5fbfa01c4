package check

import "fmt"

// revision: the list of changes runs from newest to oldest; the present revision is not older than what went
// out, and equal to it only with the same content.
func revision(in *Input, r *report) {
	ch := in.Design.Changes
	for i := 1; i < len(ch); i++ {
		newer, older := ch[i-1], ch[i]
		if !newer.Revision.Set() || !older.Revision.Set() {
			continue
		}
		if newer.Revision.V.Compare(older.Revision.V) <= 0 {
			r.add("revision-order", newer.Revision.At, "", fmt.Sprintf("%s stands above %s", newer.Revision.V, older.Revision.V), "the newest revision stands first, each higher than the one below it")
		}
		if newer.Date.Set() && older.Date.Set() && newer.Date.V.Compare(older.Date.V) < 0 {
			r.add("revision-order", newer.Date.At, "", fmt.Sprintf("%s is dated %s, before the older %s (%s)", newer.Revision.V, newer.Date.V, older.Revision.V, older.Date.V), "check the two dates")
		}
	}
	if len(ch) == 0 || !ch[0].Revision.Set() {
		return
	}
	if !in.Past.Known {
		return // nothing has gone out from here: the folder has no history to compare with
	}
	now := ch[0].Revision
	for _, p := range in.Past.Released {
		switch c := now.V.Compare(p.Revision); {
		case c < 0:
			r.add("revision-old", now.At, "", fmt.Sprintf("the manifest says %s, but %s is out already", now.V, p.Revision), fmt.Sprintf("add an entry with revision %s or higher on top of changes", p.Revision.Next("patch")))
			return
		case c == 0 && p.Content == "":
			r.unknown(now.At, "", fmt.Sprintf("whether the content is still that of %s: what went out cannot be read", p.Revision))
		case c == 0 && p.Content != in.Facts.Content:
			r.add("revision-same", now.At, "", fmt.Sprintf("%s is out, and the files differ from what went out", now.V), fmt.Sprintf("add an entry with revision %s or higher on top of changes", now.V.Next("patch")))
			return
		}
	}
}
