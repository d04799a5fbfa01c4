package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"

	"github.com/spf13/cobra"

	"dropwright/bundle"
	"dropwright/bundle/archive"
	"dropwright/bundle/design"
	"dropwright/bundle/finding"
)

func (a *app) bundleCmd() *cobra.Command {
	var audience, sign string
	cmd := &cobra.Command{
		Use:   "bundle DESIGN|WEEK",
		Short: "pack the files, one zip for each variant",
		Long: `Packs one clean zip for each variant of a design and audience: meshes with copies and colour in
their names, mirrored meshes, 3MF files with all parts of a colour laid out on the bed, sources, the sheet
(HTML, PDF), the bill of materials, photos without private data, licences, changes, checksums, and
bundle.json with every figure that was measured. The same content gives the same bytes, wherever and
whenever it is packed. A design with errors is not packed.

Before a zip gets its name it is looked over once as a whole: a place, a serial number, a path or an
address of somebody's machine, or a name that neither the series nor a credit names, and it is not
written. STEP files name their author; all such names are shown, and the manifest consents to them with
use_as_is: [{code: name-private, because: …}].

--sign names the key that signs the checksums: a private key file that nobody else may read, a public one
whose key the ssh-agent holds, or agent where that holds one key. A passphrase is never asked for.`,
		Example:           "  dropwright bundle vent-minder\n  dropwright bundle vent-minder --variant ce --for early --output outbox\n  dropwright bundle vent-minder --sign ~/.ssh/id_ed25519.pub",
		ValidArgsFunction: a.completeDesigns,
		RunE:              func(cmd *cobra.Command, args []string) error { return a.pack(args, audience, sign) },
	}
	a.formatFlag(cmd, "text", "json")
	a.variantFlag(cmd)
	a.outputFlag(cmd, "folder to write to (default: bundles in the series' outbox)")
	cmd.Flags().StringVar(&audience, "for", "public", "for this audience: early, public")
	cmd.Flags().StringVar(&sign, "sign", "", "sign with this key: a private key file, a public one that the ssh-agent holds, or agent")
	_ = cmd.RegisterFlagCompletionFunc("for", cobra.FixedCompletions([]string{"early", "public"}, cobra.ShellCompDirectiveNoFileComp))
	return cmd
}

type jsonBundle struct {
	File     string `json:"file"`
	Design   string `json:"design"`
	Revision string `json:"revision"`
	Variant  string `json:"variant"`
	Audience string `json:"audience"`
	Files    int    `json:"files"`
	Bytes    int64  `json:"bytes"`
	Digest   string `json:"digest"`
	Changed  bool   `json:"changed"`
	Signed   bool   `json:"signed"`
}

// bundle packs a design for an audience, unsigned.
func (a *app) bundle(words []string, audience string) error { return a.pack(words, audience, "") }

func (a *app) pack(words []string, audience, sign string) error {
	if audience != "early" && audience != "public" {
		return usage("write --for early or --for public", "--for: expected early or public, found %q", audience)
	}
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	s.goesOut = true
	name, err := a.oneDesign(s, words)
	if err != nil {
		return err
	}
	e, w, err := a.sane(s, name, bundle.PackTopics)
	if err != nil {
		return err
	}
	variants, err := a.variants(w.Design)
	if err != nil {
		return err
	}
	if n := finding.Count(w.Checked.Findings, finding.Error); n > 0 {
		a.complain(w.Checked.Findings, e.Text)
		return unreadable("mend them and pack again", "%s has %s and is not packed", name, plural(n, "error"))
	}
	a.since(s, w)
	key, err := a.openSigning(sign, string(s.Config.Name.V))
	if err != nil {
		return err
	}
	if key != nil {
		defer key.close()
	}
	dir := a.output
	if dir == "" {
		dir = filepath.Join(s.dir, "outbox", "bundles")
	}
	if err := os.MkdirAll(a.abs(dir), 0o777); err != nil {
		return machine("choose a folder you may write to with --output", "making %s: %w", dir, err)
	}
	out := []jsonBundle{}
	for _, v := range variants {
		o := bundle.PackOptions{Variant: v, Audience: design.Audience(audience), BoardTitle: boardTitle, Licence: licenceTexts(s.FS)}
		key.into(&o)
		b, err := a.packOne(w, o, a.abs(dir))
		if err != nil {
			return err
		}
		out = append(out, b)
	}
	if a.format == "json" {
		return a.asJSON(map[string]any{"bundles": out})
	}
	for _, b := range out {
		state := ""
		if b.Signed {
			state = ", signed"
		}
		if !b.Changed {
			state += ", the same bytes as before"
		}
		fmt.Fprintf(a.stdout, "%s: %s, %s%s\n  content %s\n", b.File, plural(b.Files, "file"), sizeText(b.Bytes), state, b.Digest)
	}
	return nil
}

// packOne packs one variant into a folder.
func (a *app) packOne(w *bundle.Work, o bundle.PackOptions, dir string) (jsonBundle, error) {
	file := filepath.Join(dir, bundle.BundleName(w.Design, o.Variant, o.Audience)+".zip")
	a.ui.step("packing %s", a.shown(file))
	var p bundle.Packed
	changed, err := archive.WriteFile(file, archive.FileOptions{Replace: true}, func(out io.Writer) (err error) {
		p, err = w.Pack(a.ctx, out, o)
		return err
	})
	var names *archive.Problems
	var moved *archive.ChangedError
	var private *bundle.PrivateError
	switch {
	case errors.As(err, &private):
		for _, l := range private.Leaks {
			a.ui.say("  %s: a %s: %s%s", l.Where, l.Kind, l.What, quoted(l.Text))
		}
		hint := "remove it from the file and pack again"
		if private.Consent {
			hint = "remove it from the file, credit who is named, or consent in the manifest:\nuse_as_is: [{code: name-private, because: …}]"
		}
		return jsonBundle{}, unreadable(hint, "packing %s: %w", w.Design.Folder, err)
	case errors.As(err, &names):
		return jsonBundle{}, unreadable("rename what is named here", "packing %s: %w", w.Design.Folder, err)
	case errors.As(err, &moved):
		return jsonBundle{}, unreadable("wait until nothing writes to the design's folder, then pack again", "packing %s: %w", w.Design.Folder, err)
	case err != nil && a.ctx.Err() != nil:
		return jsonBundle{}, a.ctx.Err()
	case err != nil:
		return jsonBundle{}, machine("check the space on the disk and that "+a.shown(dir)+" may be written to", "packing %s: %w", w.Design.Folder, err)
	}
	for _, u := range p.Unread {
		a.ui.say("not looked into for private data: %s", u)
	}
	for _, l := range p.Left {
		a.ui.say("not laid out on a bed: %s", l)
	}
	return jsonBundle{File: a.shown(file), Design: p.Design, Revision: p.Revision, Variant: p.Variant, Audience: p.Audience,
		Files: len(p.Files), Bytes: p.Bytes, Digest: p.Digest.String(), Changed: changed, Signed: o.Sign != nil}, nil
}

// licenceTexts gives the texts of licences that a series keeps, LICENSES/ID.txt.
func licenceTexts(series fs.FS) func(id string) ([]byte, bool) {
	return func(id string) ([]byte, bool) {
		data, err := fs.ReadFile(series, path.Join("LICENSES", id+".txt"))
		return data, err == nil && len(data) > 0 && len(data) <= 1<<20
	}
}

func quoted(text string) string {
	if text == "" {
		return ""
	}
	return fmt.Sprintf(", %q", text)
}

// sizeText is a file size for people.
func sizeText(n int64) string {
	switch {
	case n >= 1e9:
		return fmt.Sprintf("%.2f GB", float64(n)/1e9)
	case n >= 1e6:
		return fmt.Sprintf("%.1f MB", float64(n)/1e6)
	case n >= 1e3:
		return fmt.Sprintf("%.0f kB", float64(n)/1e3)
	}
	return fmt.Sprintf("%d B", n)
}
