package archive

import (
	"bytes"
	"crypto/ed25519"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/crypto/ssh"
)

const space = "release@hollow-lane.example"

// key is a signer made from a fixed seed, and its line of allowed signers.
func key(t testing.TB, seed byte) (ssh.Signer, string) {
	t.Helper()
	s, err := ssh.NewSignerFromKey(ed25519.NewKeyFromSeed(bytes.Repeat([]byte{seed}, 32)))
	if err != nil {
		t.Fatal(err)
	}
	return s, "maker@hollow-lane.example " + string(ssh.MarshalAuthorizedKey(s.PublicKey()))
}

// TestKeygenVerifies lets ssh-keygen judge our signature, and the same over another text.
func TestKeygenVerifies(t *testing.T) {
	keygen := tool(t, "ssh-keygen")
	signer, allowed := key(t, 1)
	message := Sums([]File{{Path: "a.txt", Size: 1}})
	sig, err := Sign(signer, space, message)
	if err != nil {
		t.Fatal(err)
	}
	again, err := Sign(signer, space, message)
	if err != nil || !bytes.Equal(sig, again) {
		t.Error("an Ed25519 signature is not the same twice")
	}
	dir := t.TempDir()
	for name, data := range map[string][]byte{"allowed_signers": []byte(allowed), "sums.sig": sig} {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	verify := func(namespace string, message []byte) error {
		c := exec.Command(keygen, "-Y", "verify", "-f", "allowed_signers", "-I", "maker@hollow-lane.example", "-n", namespace, "-s", "sums.sig")
		c.Dir = dir
		c.Stdin = bytes.NewReader(message)
		return c.Run()
	}
	if err := verify(space, message); err != nil {
		t.Errorf("ssh-keygen rejects our signature: %v", err)
	}
	if verify(space, append(message, '\n')) == nil || verify("other@hollow-lane.example", message) == nil {
		t.Error("ssh-keygen accepts another text or namespace")
	}
}

// TestKeygenSigns verifies signatures that ssh-keygen made, by every kind of key it makes here.
func TestKeygenSigns(t *testing.T) {
	keygen := tool(t, "ssh-keygen")
	for _, kind := range []string{"ed25519", "ecdsa", "rsa"} {
		dir := t.TempDir()
		run := func(args ...string) {
			c := exec.Command(keygen, args...)
			c.Dir = dir
			if out, err := c.CombinedOutput(); err != nil {
				t.Fatalf("%v: %s", err, out)
			}
		}
		message := []byte("the list\n")
		if err := os.WriteFile(filepath.Join(dir, "sums"), message, 0o644); err != nil {
			t.Fatal(err)
		}
		run("-q", "-t", kind, "-N", "", "-C", "a comment", "-f", "key")
		run("-q", "-Y", "sign", "-f", "key", "-n", space, "sums")
		pub, err := os.ReadFile(filepath.Join(dir, "key.pub"))
		if err != nil {
			t.Fatal(err)
		}
		sig, err := os.ReadFile(filepath.Join(dir, "sums.sig"))
		if err != nil {
			t.Fatal(err)
		}
		allowed := []byte("# the maker\n\nmaker namespaces=\"release@*,git\" " + string(pub))
		who, err := VerifySignature(allowed, space, message, sig)
		if err != nil || who.Principal != "maker" || !strings.HasPrefix(who.Fingerprint, "SHA256:") {
			t.Errorf("%s: %v %v", kind, who, err)
		}
		if _, err := VerifySignature(allowed, space, []byte("another list\n"), sig); !errors.Is(err, ErrSignatureWrong) {
			t.Errorf("%s, another text: %v", kind, err)
		}
	}
}

// TestSignatureRefused bends a good signature; each way is told apart.
func TestSignatureRefused(t *testing.T) {
	signer, allowed := key(t, 1)
	_, stranger := key(t, 2)
	message := []byte("the list\n")
	sig, err := Sign(signer, space, message)
	if err != nil {
		t.Fatal(err)
	}
	good := string(sig)
	bodyAt := len(armorBegin)
	for _, c := range []struct {
		name               string
		allowed, namespace string
		message, sig       string
		want               error
	}{
		{"good", allowed, space, "the list\n", good, nil},
		{"good, CR LF", allowed, space, "the list\n", strings.ReplaceAll(good, "\n", "\r\n"), nil},
		{"good, among others", stranger + allowed, space, "the list\n", good, nil},
		{"changed text", allowed, space, "the list\r\n", good, ErrSignatureWrong},
		{"other namespace", allowed, "other", "the list\n", good, ErrNamespace},
		{"no namespace", allowed, "", "the list\n", good, ErrNamespace},
		{"stranger", stranger, space, "the list\n", good, ErrSigner},
		{"nobody allowed", "# none\n", space, "the list\n", good, ErrSigner},
		{"allowed for something else", strings.Replace(allowed, " ", ` namespaces="git" `, 1), space, "the list\n", good, ErrSigner},
		{"junk before", allowed, space, "the list\n", "Really signed!\n" + good, ErrSignatureForm},
		{"a line before", allowed, space, "the list\n", "\n" + good, ErrSignatureForm},
		{"junk after", allowed, space, "the list\n", good + "Really signed!\n", ErrSignatureForm},
		{"twice", allowed, space, "the list\n", good + good, ErrSignatureForm},
		{"a header inside", allowed, space, "the list\n", good[:bodyAt] + "Comment: signed\n\n" + good[bodyAt:], ErrSignatureForm},
		{"cut short", allowed, space, "the list\n", good[:len(good)/2], ErrSignatureForm},
		{"bytes missing", allowed, space, "the list\n", good[:bodyAt] + good[bodyAt+64:], ErrSignatureForm},
		{"empty", allowed, space, "the list\n", "", ErrSignatureForm},
		{"long", allowed, space, "the list\n", armorBegin + strings.Repeat("A", signatureMax) + "\n" + armorEnd, ErrSignatureForm},
	} {
		_, err := VerifySignature([]byte(c.allowed), c.namespace, []byte(c.message), []byte(c.sig))
		if !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
	for _, list := range []string{
		"maker\n", "maker ssh-ed25519\n", "maker ssh-ed25519 AAAA\n", strings.TrimPrefix(allowed, "maker@hollow-lane.example "),
		strings.Replace(allowed, " ", " cert-authority ", 1), strings.Replace(allowed, " ", ` valid-before="20300101" `, 1),
		strings.Replace(allowed, " ", ` namespaces="!release,*" `, 1), strings.Repeat("#", signersMax+1),
	} {
		if _, err := VerifySignature([]byte(list), space, message, sig); err == nil || errors.Is(err, ErrSigner) {
			t.Errorf("list %.60q: %v", list, err)
		}
	}
	if _, err := Sign(signer, "", message); err == nil {
		t.Error("signed without a namespace")
	}
}

// TestSignedBundle goes the whole way: pack and sign, verify, check the signature of what is there.
func TestSignedBundle(t *testing.T) {
	signer, allowed := key(t, 1)
	data, _ := write(t, sample(), Options{Sign: func(sums []byte) ([]byte, error) { return Sign(signer, space, sums) }})
	rep, err := Verify(t.Context(), bytes.NewReader(data), int64(len(data)))
	if err != nil || len(rep.Problems) > 0 {
		t.Fatal(err, rep)
	}
	if _, err := VerifySignature([]byte(allowed), space, rep.Sums, rep.Signature); err != nil {
		t.Error(err)
	}
}

// FuzzSignature: no bytes but the signature itself verify, and none panic.
func FuzzSignature(f *testing.F) {
	signer, allowed := key(f, 1)
	message := []byte("the list\n")
	sig, err := Sign(signer, space, message)
	if err != nil {
		f.Fatal(err)
	}
	f.Add([]byte(allowed), sig)
	f.Add([]byte(`a namespaces="x" `+allowed[strings.Index(allowed, " ")+1:]), sig[:100])
	f.Add([]byte("# none\n"), []byte(armorBegin+armorEnd))
	f.Fuzz(func(t *testing.T, allowed, armored []byte) {
		if _, err := VerifySignature(allowed, space, message, armored); err != nil {
			return
		}
		got, err := unarmor(armored)
		want, _ := unarmor(sig)
		if err != nil || !bytes.Equal(got.PublicKey.Marshal(), want.PublicKey.Marshal()) {
			t.Errorf("accepted %q by %q", armored, allowed)
		}
	})
}
