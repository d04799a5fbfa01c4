package main

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"dropwright/bundle"
	"dropwright/bundle/mesh/same"
	"dropwright/series/schedule"
)

func (a *app) identifyCmd() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "identify FILE…",
		Short: "say which part of which design and revision a mesh is",
		Long: `Looks for a mesh among the parts of all designs of the series, as they lie there and as the history keeps
their revisions: the same shape in any order, place or turn, or its mirror image. The name of the file does
not matter.`,
		Example: "  dropwright identify ~/Downloads/part-7.stl",
		Args:    cobra.MinimumNArgs(1),
		RunE:    func(cmd *cobra.Command, args []string) error { return a.identify(args) },
	}
	a.formatFlag(cmd, "text", "json")
	return cmd
}

// identified is what a file is, as --format json prints it.
type identified struct {
	File    string  `json:"file"`
	SHA256  string  `json:"sha256,omitempty"`
	Error   string  `json:"error,omitempty"`
	Matches []match `json:"matches"`
}

// match is one part that a mesh is.
type match struct {
	Design    string   `json:"design"`
	Part      string   `json:"part"`
	Mesh      string   `json:"mesh"`
	Variants  []string `json:"variants"`
	Revisions []string `json:"revisions"` // newest first
	Present   bool     `json:"present"`   // the newest is the one that lies in the folder
	Is        string   `json:"is"`        // "same", "moved", "turned", "mirrored"
}

// part is a mesh of a design in some of its revisions.
type part struct {
	match
	sum  string
	mesh *bundle.Mesh
}

func (a *app) identify(names []string) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	parts, err := a.allParts(s)
	if err != nil {
		return err
	}
	out, failed := []identified{}, 0
	b := a.ui.busy(len(names))
	defer b.stop()
	for _, name := range names {
		if err := a.ctx.Err(); err != nil {
			return err
		}
		b.at(name, "reading")
		x := identified{File: name, Matches: []match{}}
		data, err := os.ReadFile(a.abs(name))
		var m *bundle.Mesh
		if err == nil {
			sum := sha256.Sum256(data)
			x.SHA256 = hex.EncodeToString(sum[:])
			m, err = bundle.ReadMesh(name, data)
		}
		if err != nil {
			failed++
			x.Error = plainError(err).Error()
			out = append(out, x)
			b.end(name)
			continue
		}
		for _, p := range parts {
			b.at(name, "comparing it with "+p.Part+" of "+p.Design)
			if k := m.Is(p.mesh); k != same.Changed {
				hit := p.match
				hit.Is = string(k)
				x.Matches = append(x.Matches, hit)
			}
		}
		out = append(out, x)
		b.end(name)
	}
	b.stop()
	if a.format == "json" {
		if err := a.asJSON(out); err != nil {
			return err
		}
	} else {
		a.printIdentified(out)
	}
	if failed > 0 {
		return unreadable("export it again as binary STL or 3MF", "%s cannot be read", plural(failed, "file"))
	}
	return nil
}

func (a *app) printIdentified(all []identified) {
	for _, x := range all {
		switch {
		case x.Error != "":
			fmt.Fprintf(a.stdout, "%s: cannot be read: %s\n", x.File, x.Error)
		case len(x.Matches) == 0:
			fmt.Fprintf(a.stdout, "%s: no part of this series, in no revision that is kept\n", x.File)
		}
		for _, m := range x.Matches {
			how := map[string]string{"moved": ", drawn in another place", "turned": ", turned", "mirrored": ", as its mirror image"}[m.Is]
			in := strings.Join(m.Revisions, ", ")
			if m.Present {
				in = strings.Replace(in, m.Revisions[0], m.Revisions[0]+" as it lies there", 1)
			}
			of := ""
			if len(m.Variants) > 0 && !slices.Equal(m.Variants, []string{"plain"}) {
				of = " (" + strings.Join(m.Variants, ", ") + ")"
			}
			fmt.Fprintf(a.stdout, "%s: %s of %s%s%s: %s\n", x.File, m.Part, m.Design, of, how, in)
		}
	}
}

// allParts reads the meshes of all parts of the series: present ones, then those of kept revisions, newest first.
// A mesh that several revisions share stands once. What cannot be read is passed over: check says so.
func (a *app) allParts(s *season) ([]part, error) {
	var out []part
	keeper, kerr := a.keeper(s)
	for _, name := range s.Names {
		if err := a.ctx.Err(); err != nil {
			return nil, err
		}
		a.ui.step("reading %s", name)
		from := len(out)
		a.addParts(s, name, nil, from, &out)
		if kerr != nil {
			continue
		}
		revisions, err := keeper.Revisions(name)
		if err != nil {
			return nil, machine("", "reading the history of %s: %w", name, err)
		}
		slices.SortFunc(revisions, func(x, y string) int {
			if schedule.Newer(x, y) {
				return -1
			}
			return 1
		})
		for _, r := range revisions {
			if at, err := keeper.At(name, r); err == nil {
				a.addParts(s, name, at, from, &out)
			}
		}
	}
	return out, nil
}

// addParts adds the parts of one state of a design; those of the same design begin at from.
func (a *app) addParts(s *season, name string, at fs.FS, from int, out *[]part) {
	e, err := a.loadAt(s, name, at)
	if err != nil || e.Design == nil || len(e.Design.Changes) == 0 {
		return
	}
	revision := e.Design.Revision().String()
	for _, c := range bundle.Candidates(e.Design) {
		data, err := fs.ReadFile(e.FS, c.File)
		if err != nil {
			continue
		}
		h := sha256.Sum256(data)
		sum := hex.EncodeToString(h[:])
		i := slices.IndexFunc((*out)[from:], func(p part) bool { return p.sum == sum && p.Part == c.Part })
		if i >= 0 {
			if p := &(*out)[from+i]; !slices.Contains(p.Revisions, revision) {
				p.Revisions = append(p.Revisions, revision)
			}
			continue
		}
		m, err := bundle.ReadMesh(c.File, data)
		if err != nil {
			continue
		}
		*out = append(*out, part{match{Design: name, Part: c.Part, Mesh: c.File, Variants: c.Variants, Revisions: []string{revision}, Present: at == nil}, sum, m})
	}
}
