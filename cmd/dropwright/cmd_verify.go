package main

import (
	"encoding/json"
	"fmt"
	"io/fs"
	"os"

	"github.com/spf13/cobra"

	"dropwright/bundle/archive"
)

func (a *app) verifyCmd() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "verify ZIP|FOLDER",
		Short: "say whether a bundle is still what was packed",
		Long: `Reads a whole bundle, packed or unpacked: its structure, every file against SHA256SUMS, what is
missing, extra or changed. Zips made to do harm are refused by name; nothing is unpacked.`,
		Example: "  dropwright verify outbox/bundles/soil-stake-1.0.0-public.zip",
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return usage("`dropwright verify FILE.zip`", "which bundle? name one zip or folder")
			}
			return a.verify(args[0])
		},
	}
	a.formatFlag(cmd, "text", "json")
	return cmd
}

// verified is what verify found, as --format json prints it.
type verified struct {
	OK        bool              `json:"ok"`
	Files     int               `json:"files"`
	Digest    string            `json:"digest"`
	Revision  string            `json:"revision,omitempty"`
	Audience  string            `json:"audience,omitempty"`
	Signature string            `json:"signature"`
	Problems  []archive.Problem `json:"problems"`
}

func (a *app) verify(name string) error {
	path := a.abs(name)
	st, err := os.Stat(path)
	if err != nil {
		return unreadable("name a zip or a folder it was unpacked to", "%s: %w", name, plainError(err))
	}
	var rep *archive.Report
	var card []byte
	if st.IsDir() {
		root, rerr := os.OpenRoot(path)
		if rerr != nil {
			return machine("check that you may read it", "opening %s: %w", name, rerr)
		}
		defer root.Close()
		rep, err = archive.VerifyFolder(a.ctx, root.FS())
		card, _ = fs.ReadFile(root.FS(), "bundle.json")
	} else {
		f, ferr := os.Open(path)
		if ferr != nil {
			return unreadable("check that you may read it", "opening %s: %w", name, plainError(ferr))
		}
		defer f.Close()
		rep, err = archive.Verify(a.ctx, f, st.Size())
	}
	if err != nil {
		return machine("", "reading %s: %w", name, err)
	}
	v := verified{OK: len(rep.Problems) == 0, Files: len(rep.Files), Digest: rep.Digest.String(), Signature: "absent", Problems: rep.Problems}
	if v.Problems == nil {
		v.Problems = []archive.Problem{}
	}
	var c struct{ Revision, Audience string }
	if json.Unmarshal(card, &c) == nil {
		v.Revision, v.Audience = c.Revision, c.Audience
	}
	if a.format == "json" {
		enc := json.NewEncoder(a.stdout)
		enc.SetIndent("", "  ")
		if err := enc.Encode(v); err != nil {
			return machine("", "writing the result: %w", err)
		}
	} else {
		for _, p := range v.Problems {
			fmt.Fprintf(a.stdout, "%s: %s [%s]\n", name, p, p.Kind)
		}
		if v.OK {
			fmt.Fprintf(a.stdout, "%s: whole: %s as packed, unsigned\n  content %s\n", name, plural(v.Files, "file"), v.Digest)
		}
	}
	if !v.OK {
		return unreadable("get the bundle again from where it came; do not use these files", "%s is not what was packed: %s", name, plural(len(v.Problems), "problem"))
	}
	return nil
}

func plainError(err error) error {
	if pe, ok := err.(*fs.PathError); ok {
		return pe.Err
	}
	return err
}
