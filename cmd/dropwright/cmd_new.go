package main

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"dropwright/bundle/check"
	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/measure"
	"dropwright/bundle/source"
	"dropwright/series/catalogue"
)

func (a *app) newCmd() *cobra.Command {
	var like string
	cmd := &cobra.Command{
		Use:   "new NAME",
		Short: "start a design: a folder with design.yaml",
		Long: `Writes designs/NAME/design.yaml with short comments that teach. It passes ` + "`check`" + ` except for what
only you can supply: the meshes, a photo, the story. With --like it starts from another design's
manifest, CAD sources and step texts; its meshes, photos and story are its own.`,
		Example: "  dropwright new wall-hook\n  dropwright new wall-hook-wide --like wall-hook",
		Args:    cobra.ExactArgs(1),
		RunE:    func(cmd *cobra.Command, args []string) error { return a.newDesign(args[0], like) },
	}
	cmd.Flags().StringVar(&like, "like", "", "start from this design")
	_ = cmd.RegisterFlagCompletionFunc("like", func(cmd *cobra.Command, _ []string, w string) ([]string, cobra.ShellCompDirective) {
		return a.completeDesigns(cmd, nil, w)
	})
	return cmd
}

func (a *app) newDesign(name, like string) error {
	if k := design.Kebab(name); k != name {
		return usage("`dropwright new "+k+"`", "a design's name has lower-case letters, digits and single hyphens, found %q", name)
	}
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	dir := filepath.Join(s.dir, catalogue.DesignsDir, name)
	if _, err := os.Lstat(dir); err == nil {
		return refused("choose another name, or edit "+s.Path(name, catalogue.DesignFile), "there is a folder %s already", a.shown(dir))
	}
	files := map[string][]byte{}
	if like == "" {
		filament := "black"
		if n := s.Config.FilamentNames(); len(n) > 0 {
			filament = n[0]
		}
		files[catalogue.DesignFile] = []byte(fmt.Sprintf(designTemplate, titleOf(name), check.PlaceholderSummary, a.now().Format("2006-01-02"), filament, name, name))
	} else {
		other, err := a.oneDesign(s, []string{like})
		if err != nil {
			return err
		}
		if files, err = a.likeDesign(s, other, name); err != nil {
			return err
		}
	}
	files[filepath.Join("meshes", ".gitkeep")] = nil // so that the folder is there to put them into
	if err := a.layOut(dir, files); err != nil {
		return err
	}
	mesh := s.Path(name, "meshes/"+name+".stl")
	if like != "" {
		mesh = s.Path(name, "meshes") + " under the names in its manifest"
	}
	week := ""
	if s.Config.WeekOf(name) == 0 {
		week = "\nit has no week yet: dropwright schedule move " + name + " WEEK"
	}
	a.ui.say("wrote %s\nnext: put its mesh at %s, then `dropwright check %s`%s", s.Path(name, catalogue.DesignFile), mesh, name, week)
	return nil
}

// likeDesign takes another design's manifest over under a new title with a fresh list of changes, and the
// text files it names: CAD sources and step texts. Comments stay.
func (a *app) likeDesign(s *season, other, name string) (map[string][]byte, error) {
	e, err := s.Load(other)
	if err != nil {
		return nil, machine("", "%w", err)
	}
	if e.Design == nil || finding.Count(e.Findings, finding.Error) > 0 {
		return nil, unreadable("`dropwright check "+other+"` says where", "the manifest of %s cannot be read as meant", other)
	}
	text := e.Text.Body
	root, _, _ := source.Parse(e.Text.File, e.Manifest)
	for _, x := range [][2]string{
		{"title", "title: " + titleOf(name)},
		{"changes", fmt.Sprintf("changes:\n  - {revision: 1.0.0, date: %s, text: first release}", a.now().Format("2006-01-02"))},
		{"use_as_is", ""}, // what was taken as it is there was not judged here
		{"page", ""},
	} {
		text = replaceTop(text, root, x[0], x[1])
		root, _, _ = source.Parse(e.Text.File, []byte(text))
	}
	files := map[string][]byte{catalogue.DesignFile: []byte(text)}
	for _, f := range e.Design.Files() {
		switch f.Kind {
		case "source", "step text", "board profile", "pins":
			data, err := fs.ReadFile(e.FS, string(f.Path))
			if err != nil {
				a.ui.say("note: %s is not there to be taken over", s.Path(other, string(f.Path)))
				continue
			}
			if len(data) > measure.MaxText*8 {
				continue // a CAD file of many megabytes is no text to start from
			}
			files[filepath.FromSlash(string(f.Path))] = data
		}
	}
	return files, nil
}

// replaceTop replaces a key of the first level with all its lines; an empty replacement removes it.
func replaceTop(text string, root *source.Node, key, with string) string {
	if root == nil {
		return text
	}
	lines := strings.Split(text, "\n")
	for i, p := range root.Pairs {
		if p.Key != key {
			continue
		}
		from := p.KeyAt.Line - 1
		to := len(lines)
		if i+1 < len(root.Pairs) {
			to = root.Pairs[i+1].KeyAt.Line - 1
		}
		for to > from+1 { // comments and blank lines above the next key belong to it
			l := strings.TrimSpace(lines[to-1])
			if l != "" && !strings.HasPrefix(l, "#") {
				break
			}
			to--
		}
		var out []string
		out = append(out, lines[:from]...)
		if with != "" {
			out = append(out, strings.Split(with, "\n")...)
		}
		return strings.Join(append(out, lines[to:]...), "\n")
	}
	return text
}

const designTemplate = `# yaml-language-server: $schema=../../design.schema.json
# Lengths are millimetres unless a unit is written. Paths are inside this folder. ` + "`dropwright check`" + ` says what is missing.
title: %s
summary: %s
changes:                                # newest first; the top entry is the present revision
  - {revision: 1.0.0, date: %s, text: first release}
# story: story.md                       # Markdown for the announcement
# used_in: [outdoors]                   # where it is used: outdoors, greenhouse, car, window
# variants:                             # one for each board, size or option; without them there is one
#   - {name: ce, title: 96Boards CE, board: 96boards-ce, sits_in: base}
colours: {body: %s}                  # colour role: filament of the series, or a list of them
parts:                                  # one entry for each printed part
  - {name: %s, colour: body, mesh: meshes/%s.stl}
# bought:                               # what is bought in; boards are listed by their variant
#   - {name: fan, what: fan 40 x 40 x 10, volts: 5, milliamps: 100, leads: {red: supply, black: ground}}
# fasteners:                            # each with what it passes through and goes into
#   - {name: lid-screw, screw: M3x8, head: socket, count: 4, through: [lid], into: base}
# assembly:                             # needed as soon as anything is put together
#   - {title: Close the lid, text: Hand tight., uses: {base: 1, lid: 1, lid-screw: 4}, tools: [hex key 2.5]}
# photos:
#   - {file: photos/front.jpg, alt: What the picture shows, cover: true}
`
