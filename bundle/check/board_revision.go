package check

import (
	"fmt"
	"strings"

	"dropwright/bundle/board"
	"dropwright/bundle/design"
)

// boardRevision: a variant says which revisions of its board it was made for. A board that follows an edition of
// a standard has said it, unless the variant says otherwise; a profile of the design's own is of one revision.
func boardRevision(in *Input, r *report) {
	for _, v := range in.Design.Variants {
		for _, b := range v.BoardList() {
			if !b.Profile.Set() || design.IsFile(string(b.Profile.V)) {
				continue
			}
			p, err := board.Load(string(b.Profile.V))
			if err != nil {
				continue // said where names are
			}
			edition, _, _ := strings.Cut(p.Designation.Edition.S, " ")
			switch {
			case edition == "" && len(v.BoardRevisions) == 0:
				r.add("board-revision-missing", b.Profile.At, "", fmt.Sprintf("%s does not say which revisions of its board (%s) it was made for", v.Name.V, b.Profile.V),
					`add board_revisions: ["1.2"] with those you tried; boards of one outline move their sockets from revision to revision`)
			case edition != "" && len(v.BoardRevisions) > 0 && !holdsRevision(v.BoardRevisions, edition):
				r.add("board-revision-differs", v.BoardRevisions[0].At, "", fmt.Sprintf("%s is for revision %s of its board; the profile %s is measured by edition %s", v.Name.V, v.BoardRevisions[0].V, b.Profile.V, edition),
					"name the edition too if the case fits both; else write a profile of that revision and name its file")
			}
		}
	}
}

func holdsRevision(list []design.Val[design.Text], edition string) bool {
	for _, x := range list {
		if strings.HasPrefix(string(x.V), edition) {
			return true
		}
	}
	return false
}
