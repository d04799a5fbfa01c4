package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"dropwright/bundle"
	"dropwright/bundle/archive"
	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/measure"
)

func (a *app) bundleCmd() *cobra.Command {
	var audience string
	cmd := &cobra.Command{
		Use:   "bundle DESIGN|WEEK",
		Short: "pack the files, one zip for each variant",
		Long: `Packs one clean zip for each variant of a design and audience: meshes with copies and colour in
their names, mirrored meshes, sources, the sheet, the bill of materials, photos without private data,
licence, changes, checksums. The same content gives the same bytes, wherever and whenever it is packed.
A design with errors is not packed.`,
		Example:           "  dropwright bundle vent-minder\n  dropwright bundle vent-minder --variant ce --for early --output outbox",
		ValidArgsFunction: a.completeDesigns,
		RunE:              func(cmd *cobra.Command, args []string) error { return a.bundle(args, audience) },
	}
	a.formatFlag(cmd, "text", "json")
	a.variantFlag(cmd)
	a.outputFlag(cmd, "folder to write to (default: bundles in the series' outbox)")
	cmd.Flags().StringVar(&audience, "for", "public", "for this audience: early, public")
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
}

func (a *app) bundle(words []string, audience string) error {
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
	e, w, err := a.sane(s, name, measure.Topics{Estimate: true})
	if err != nil {
		return err
	}
	variants, err := a.variants(w.Design)
	if err != nil {
		return err
	}
	if n := finding.Count(w.Checked.Findings, finding.Error); n > 0 {
		t := texts{}
		t.add(e.Text)
		errUI := *a.ui
		errUI.out = a.stderr
		errUI.findings(w.Checked.Findings, t, false)
		return unreadable("mend them and pack again", "%s has %s and is not packed", name, plural(n, "error"))
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
		b, err := a.packOne(w, v, design.Audience(audience), a.abs(dir))
		if err != nil {
			return err
		}
		out = append(out, b)
	}
	if a.format == "json" {
		enc := json.NewEncoder(a.stdout)
		enc.SetIndent("", "  ")
		return enc.Encode(map[string]any{"bundles": out})
	}
	for _, b := range out {
		state := ""
		if !b.Changed {
			state = ", the same bytes as before"
		}
		fmt.Fprintf(a.stdout, "%s: %s, %s%s\n  content %s\n", b.File, plural(b.Files, "file"), sizeText(b.Bytes), state, b.Digest)
	}
	return nil
}

// packOne packs one variant into a folder.
func (a *app) packOne(w *bundle.Work, variant string, audience design.Audience, dir string) (jsonBundle, error) {
	file := filepath.Join(dir, bundle.BundleName(w.Design, variant, audience)+".zip")
	a.ui.step("packing %s", a.shown(file))
	var p bundle.Packed
	changed, err := archive.WriteFile(file, archive.FileOptions{Replace: true}, func(out io.Writer) (err error) {
		p, err = w.Pack(a.ctx, out, bundle.PackOptions{Variant: variant, Audience: audience, BoardTitle: boardTitle})
		return err
	})
	var names *archive.Problems
	var moved *archive.ChangedError
	switch {
	case errors.As(err, &names):
		return jsonBundle{}, unreadable("rename what is named here", "packing %s: %w", w.Design.Folder, err)
	case errors.As(err, &moved):
		return jsonBundle{}, unreadable("wait until nothing writes to the design's folder, then pack again", "packing %s: %w", w.Design.Folder, err)
	case err != nil && a.ctx.Err() != nil:
		return jsonBundle{}, a.ctx.Err()
	case err != nil:
		return jsonBundle{}, machine("check the space on the disk and that "+a.shown(dir)+" may be written to", "packing %s: %w", w.Design.Folder, err)
	}
	return jsonBundle{File: a.shown(file), Design: p.Design, Revision: p.Revision, Variant: p.Variant, Audience: p.Audience,
		Files: len(p.Files), Bytes: p.Bytes, Digest: p.Digest.String(), Changed: changed}, nil
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
