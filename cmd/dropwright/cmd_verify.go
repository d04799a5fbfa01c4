package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"dropwright/bundle"
	"dropwright/bundle/archive"
	"dropwright/series/disk"
	"dropwright/series/ledger"
	"dropwright/series/release"
)

func (a *app) verifyCmd() *cobra.Command {
	var signers string
	cmd := &cobra.Command{
		Use:   "verify ZIP|FOLDER",
		Short: "say whether a bundle is still what was packed",
		Long: `Reads a whole bundle, packed or unpacked: its structure, every file against SHA256SUMS, what is
missing, extra or changed, and its signature; of a folder that holds zips, each of them. Inside a series it also says whether the ledger knows these
bytes as what went out. Zips made to do harm are refused by name; nothing is unpacked.

A signature is checked against a list of allowed signers in the form of ssh-keygen(1): --signers FILE, or
allowed_signers in the series' folder. Without a list a signature is there, but nobody says whose it may be.`,
		Example: "  dropwright verify outbox/bundles/soil-stake-1.0.0-public.zip\n  dropwright verify --signers allowed_signers soil-stake-1.0.0-public",
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return usage("`dropwright verify FILE.zip`", "which bundle? name one zip or folder")
			}
			return a.verifyAll(args[0], signers)
		},
	}
	a.formatFlag(cmd, "text", "json")
	cmd.Flags().StringVar(&signers, "signers", "", "list of allowed signers (default: allowed_signers of the series)")
	return cmd
}

// The states of a signature and of the ledger, as --format json prints them.
const (
	signatureValid   = "valid"
	signatureInvalid = "invalid"
	signatureAbsent  = "absent"
	signatureUnknown = "unknown" // there is one, and no list says who may sign

	ledgerSame    = "same"     // these very bytes went out
	ledgerContent = "content"  // the same content went out in another zip
	ledgerDiffers = "differs"  // something else went out under this name
	ledgerUnknown = "unlisted" // nothing of this name went out
)

// verified is what verify found, as --format json prints it.
type verified struct {
	OK        bool              `json:"ok"`
	Files     int               `json:"files"`
	Digest    string            `json:"digest"`
	Design    string            `json:"design,omitempty"`
	Revision  string            `json:"revision,omitempty"`
	Variant   string            `json:"variant,omitempty"`
	Audience  string            `json:"audience,omitempty"`
	Signature string            `json:"signature"`
	Signer    *archive.Signer   `json:"signer,omitempty"`
	Ledger    string            `json:"ledger,omitempty"`
	Problems  []archive.Problem `json:"problems"`
}

// verifiedFile is one zip of a folder of zips; Error says why it could not be read at all.
type verifiedFile struct {
	File string `json:"file"`
	*verified
	Error string `json:"error,omitempty"`
}

// looked is a bundle that was read.
type looked struct {
	rep  *archive.Report
	card []byte
	name string // of the zip that it is, or was: without a folder
	sum  string // SHA-256 of the zip, "" for a folder
}

// verifyAll verifies one bundle, or each zip of a folder that holds zips and is none unpacked.
func (a *app) verifyAll(name, signers string) error {
	zips := a.zipsIn(name)
	if len(zips) == 0 { // a zip, an unpacked bundle, or nothing: it says which
		v, err := a.verify(name, signers)
		if err != nil {
			return err
		}
		if a.format == "json" {
			err = a.asJSON(v)
		} else {
			a.printVerified(name, v)
		}
		if err != nil {
			return err
		}
		return v.verdict(name)
	}
	all := struct {
		OK      bool           `json:"ok"`
		Bundles []verifiedFile `json:"bundles"`
	}{OK: true}
	bad := 0
	for _, file := range zips {
		if err := a.ctx.Err(); err != nil {
			return err
		}
		v, err := a.verify(file, signers)
		x := verifiedFile{File: filepath.ToSlash(file)}
		if err == nil {
			x.verified = &v
			if a.format != "json" {
				a.printVerified(file, v)
			}
			err = v.verdict(file)
		} else {
			x.Error = err.Error()
		}
		all.Bundles = append(all.Bundles, x)
		if err != nil {
			a.ui.fail(err)
			bad++
		}
	}
	all.OK = bad == 0
	if a.format == "json" {
		if err := a.asJSON(all); err != nil {
			return err
		}
	}
	if bad > 0 {
		return unreadable("what was wrong with each stands above", "%d of %s are not what was packed", bad, plural(len(zips), "zip"))
	}
	return nil
}

// zipsIn lists the zips of a folder, sorted; none for what is no folder, or for the folder of an unpacked bundle.
func (a *app) zipsIn(name string) []string {
	dir := a.abs(name)
	if _, err := os.Stat(filepath.Join(dir, archive.SumsName)); err == nil {
		return nil
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil
	}
	var out []string
	for _, e := range entries {
		if strings.EqualFold(filepath.Ext(e.Name()), ".zip") && e.Type().IsRegular() {
			out = append(out, filepath.Join(name, e.Name()))
		}
	}
	return out
}

// verdict is what verify ends with.
func (v verified) verdict(name string) error {
	if v.OK {
		return nil
	}
	return unreadable("get the bundle again from where it came; do not use these files", "%s is not what was packed: %s", name, plural(len(v.Problems), "problem"))
}

// litter are files that systems leave in folders by themselves: no part of a bundle and no damage to one.
var litter = []string{".DS_Store", "Thumbs.db", "desktop.ini", ".directory"}

// harmless takes what systems left out of the problems and says so.
func (a *app) harmless(name string, all []archive.Problem) []archive.Problem {
	return slices.DeleteFunc(all, func(p archive.Problem) bool {
		if p.Kind != archive.FileExtra || !slices.Contains(litter, path.Base(p.Path)) {
			return false
		}
		a.ui.say("note: %s: %s was left there by a system and is harmless", name, p.Path)
		return true
	})
}

// verify reads one bundle and judges it. An error is one of the machine, or says that there is nothing to judge.
func (a *app) verify(name, signers string) (verified, error) {
	l, err := a.look(name)
	if err != nil {
		return verified{}, err
	}
	if l.sum == "" { // in a zip nothing was left by chance
		l.rep.Problems = a.harmless(name, l.rep.Problems)
	}
	v := verified{Files: len(l.rep.Files), Digest: l.rep.Digest.String(), Signature: signatureAbsent, Problems: l.rep.Problems}
	if v.Problems == nil {
		v.Problems = []archive.Problem{}
	}
	var c struct{ Design, Revision, Variant, Audience string }
	if json.Unmarshal(l.card, &c) == nil {
		v.Design, v.Revision, v.Variant, v.Audience = c.Design, c.Revision, c.Variant, c.Audience
	}
	s, serr := a.nearSeries()
	if serr != nil {
		return verified{}, serr
	}
	if s != nil {
		defer s.close()
	}
	if err := a.judgeSignature(&v, l, s, signers); err != nil {
		return verified{}, err
	}
	if s != nil {
		a.judgeLedger(&v, l, s)
	}
	v.OK = len(v.Problems) == 0
	return v, nil
}

func (a *app) printVerified(name string, v verified) {
	for _, p := range v.Problems {
		fmt.Fprintf(a.stdout, "%s: %s [%s]\n", name, p, p.Kind)
	}
	if !v.OK {
		return
	}
	signed := map[string]string{signatureAbsent: "unsigned", signatureUnknown: "signed, but no list says whose signature counts"}[v.Signature]
	if v.Signer != nil {
		signed = fmt.Sprintf("signed by %s (%s)", v.Signer.Principal, v.Signer.Fingerprint)
	}
	fmt.Fprintf(a.stdout, "%s: whole: %s as packed, %s\n  content %s\n", name, plural(v.Files, "file"), signed, v.Digest)
	if said := map[string]string{ledgerSame: "these very bytes", ledgerContent: "the same content, in another zip", ledgerUnknown: "nothing of this name went out yet"}[v.Ledger]; said != "" {
		fmt.Fprintf(a.stdout, "  ledger: %s\n", said)
	}
}

// look reads a bundle, packed or unpacked.
func (a *app) look(name string) (looked, error) {
	full := a.abs(name)
	st, err := os.Stat(full)
	if err != nil {
		return looked{}, unreadable("name a zip or a folder it was unpacked to", "%s: %w", name, plainError(err))
	}
	if st.IsDir() {
		root, err := os.OpenRoot(full)
		if err != nil {
			return looked{}, machine("check that you may read it", "opening %s: %w", name, err)
		}
		defer root.Close()
		rep, err := archive.VerifyFolder(a.ctx, root.FS())
		if err != nil {
			return looked{}, unreadable("name the folder that a bundle was unpacked to: it holds SHA256SUMS", "reading %s: %w", name, err)
		}
		card, _ := fs.ReadFile(root.FS(), "bundle.json")
		return looked{rep: rep, card: card, name: filepath.Base(full) + ".zip"}, nil
	}
	f, err := os.Open(full)
	if err != nil {
		return looked{}, unreadable("check that you may read it", "opening %s: %w", name, plainError(err))
	}
	defer f.Close()
	rep, err := archive.Verify(a.ctx, f, st.Size())
	if err != nil {
		return looked{}, machine("", "reading %s: %w", name, err)
	}
	l := looked{rep: rep, name: rep.Top + ".zip"}
	if z, err := archive.Read(f, st.Size()); err == nil {
		l.card, _ = z.ReadFile("bundle.json", maxCard)
	}
	h := sha256.New()
	if _, err := io.Copy(h, io.NewSectionReader(f, 0, st.Size())); err != nil {
		return looked{}, machine("", "reading %s: %w", name, err)
	}
	l.sum = hex.EncodeToString(h.Sum(nil))
	return l, nil
}

// maxCard is the largest bundle.json read, in bytes; that of a design of a hundred parts has some two million.
const maxCard = 64 << 20

// nearSeries opens the series that the working folder lies in, nil where it lies in none.
func (a *app) nearSeries() (*season, error) {
	if _, err := a.findSeries(); err != nil {
		if a.series != "" {
			return nil, err
		}
		return nil, nil
	}
	s, err := a.openSeries()
	if err != nil || s.Config == nil {
		if s != nil {
			s.close()
		}
		return nil, nil // verifying does not need one
	}
	return s, nil
}

// judgeSignature checks a signature against the list of who may sign.
func (a *app) judgeSignature(v *verified, l looked, s *season, signers string) error {
	var list []byte
	switch {
	case signers != "":
		data, err := readLimited(a.abs(signers), 1<<20)
		if err != nil {
			return unreadable("name a list of allowed signers, one `name key-type key` a line", "--signers %s: %w", signers, plainError(err))
		}
		list = data
	case s != nil:
		list, _ = fs.ReadFile(s.FS, "allowed_signers")
	}
	problem := func(kind, text string) {
		v.Problems = append(v.Problems, archive.Problem{Kind: kind, Path: archive.SignatureName, Text: text})
	}
	if l.rep.Signature == nil {
		if signers != "" {
			problem("signature-missing", "it is not signed, and --signers wants it to be")
		}
		return nil
	}
	if len(list) == 0 {
		v.Signature = signatureUnknown
		return nil
	}
	who, err := archive.VerifySignature(list, bundle.SignatureNamespace, l.rep.Sums, l.rep.Signature)
	known := errors.Is(err, archive.ErrSignatureForm) || errors.Is(err, archive.ErrNamespace) || errors.Is(err, archive.ErrSigner) || errors.Is(err, archive.ErrSignatureWrong)
	switch {
	case err == nil:
		v.Signature, v.Signer = signatureValid, &who
	case known:
		v.Signature = signatureInvalid
		problem("signature-invalid", err.Error())
	default:
		return unreadable("mend the list of allowed signers", "%w", err)
	}
	return nil
}

// judgeLedger compares a bundle with what the ledger says went out under its name.
func (a *app) judgeLedger(v *verified, l looked, s *season) {
	log, err := ledger.Read(disk.OS(), ledgerPath(s, false))
	if err != nil || len(log.Entries) == 0 {
		return // `dropwright ledger verify` is for that
	}
	v.Ledger = ledgerUnknown
	store := release.OpenStore(disk.OS(), filepath.Join(s.dir, release.StoreName))
	for _, e := range log.Entries {
		if e.Kind != ledger.Bundle {
			continue
		}
		for _, o := range e.Objects {
			if o.Name != l.name {
				continue
			}
			if o.SHA256 == l.sum {
				v.Ledger = ledgerSame
				return
			}
			v.Ledger = ledgerDiffers
			if d, ok := storedDigest(a.ctx, store, o); ok && d == v.Digest {
				v.Ledger = ledgerContent
			}
		}
	}
	if v.Ledger == ledgerDiffers && l.sum == "" && len(v.Problems) == 0 {
		v.Ledger = "" // an unpacked bundle has no bytes to compare, and the zip that went out is not here
		for _, e := range log.Entries {
			for _, o := range e.Objects {
				if d, ok := storedDigest(a.ctx, store, o); o.Name == l.name && ok && d != v.Digest {
					v.Ledger = ledgerDiffers
				}
			}
		}
	}
	if v.Ledger == ledgerDiffers {
		v.Problems = append(v.Problems, archive.Problem{Kind: "ledger-differs", Text: "the ledger says that something else went out under the name " + l.name})
	}
}

// storedDigest is the content digest of a zip that went out, when the series still keeps it.
func storedDigest(ctx context.Context, store *release.Store, o ledger.Object) (string, bool) {
	c, err := store.Content(ctx, o.Name, o.SHA256, o.Bytes)
	if err != nil {
		return "", false
	}
	f, err := c.Open()
	if err != nil {
		return "", false
	}
	defer f.Close()
	r, ok := f.(io.ReaderAt)
	if !ok {
		return "", false
	}
	rep, err := archive.Verify(ctx, r, o.Bytes)
	if err != nil || len(rep.Problems) > 0 {
		return "", false
	}
	return rep.Digest.String(), true
}

func plainError(err error) error {
	if pe, ok := err.(*fs.PathError); ok {
		return pe.Err
	}
	return err
}
