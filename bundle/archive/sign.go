package archive

import (
	"bytes"
	"encoding/pem"
	"errors"
	"fmt"
	"path"
	"strings"

	"github.com/hiddeco/sshsig"
	"golang.org/x/crypto/ssh"
)

const (
	armorBegin = "-----BEGIN SSH SIGNATURE-----\n"
	armorEnd   = "-----END SSH SIGNATURE-----\n"
	// signatureMax is the longest signature file read, in bytes; one by a 16,384-bit RSA key has
	// some 8,000.
	signatureMax = 64 << 10
	// signersMax is the longest list of allowed signers read, in bytes.
	signersMax = 1 << 20
)

// Sign signs message, as a rule the text of SHA256SUMS, for namespace, and returns the armored
// signature that `ssh-keygen -Y verify` reads (PROTOCOL.sshsig of OpenSSH; SHA-512). A namespace is
// NAME@DOMAIN of the maker (ssh-keygen(1)) and keeps a signature made for one purpose from passing
// for another. The signer comes from the caller, who has opened a key or an agent. Ed25519 and RSA
// signatures are the same each time; ECDSA ones are not.
func Sign(signer ssh.Signer, namespace string, message []byte) ([]byte, error) {
	sig, err := sshsig.Sign(bytes.NewReader(message), signer, sshsig.HashSHA512, namespace)
	if err != nil {
		return nil, fmt.Errorf("sign for %q: %w", namespace, err)
	}
	// The library wraps at 64 columns, ssh-keygen at 70: both read both.
	return sshsig.Armor(sig), nil
}

// Reasons why a signature is not accepted.
var (
	ErrSignatureForm  = errors.New("not a well-formed SSH signature")
	ErrNamespace      = errors.New("made for another purpose")
	ErrSigner         = errors.New("made by a key that is not allowed")
	ErrSignatureWrong = errors.New("does not match: the text was changed after signing")
)

// Signer is who made a signature.
type Signer struct {
	Principal   string `json:"principal"`   // name by which the key is allowed
	Fingerprint string `json:"fingerprint"` // SHA256:… of the key, as ssh-keygen -l prints it
}

// VerifySignature checks the armored signature over message for namespace against a list of allowed
// signers in the form of ssh-keygen(1), and returns who signed. The error wraps one of
// ErrSignatureForm, ErrNamespace, ErrSigner, ErrSignatureWrong, or tells what is wrong with the
// list. Stricter than ssh-keygen -Y verify: lines with cert-authority or with dates are an error,
// since there is no certificate and no clock here.
func VerifySignature(allowed []byte, namespace string, message, armored []byte) (Signer, error) {
	keys, err := parseSigners(allowed)
	if err != nil {
		return Signer{}, err
	}
	sig, err := unarmor(armored)
	if err != nil {
		return Signer{}, fmt.Errorf("signature: %w: %w", ErrSignatureForm, err)
	}
	if namespace == "" || sig.Namespace != namespace {
		return Signer{}, fmt.Errorf("signature: %w: for %q, wanted %q", ErrNamespace, sig.Namespace, namespace)
	}
	who := Signer{Fingerprint: ssh.FingerprintSHA256(sig.PublicKey)}
	for _, k := range keys {
		if bytes.Equal(k.key.Marshal(), sig.PublicKey.Marshal()) && k.allows(namespace) {
			who.Principal = k.principal
			break
		}
	}
	if who.Principal == "" {
		return Signer{}, fmt.Errorf("signature: %w: %s %s", ErrSigner, sig.PublicKey.Type(), who.Fingerprint)
	}
	if err := sshsig.Verify(bytes.NewReader(message), sig, sig.PublicKey, sig.HashAlgorithm, namespace); err != nil {
		return Signer{}, fmt.Errorf("signature by %s: %w", who.Principal, ErrSignatureWrong)
	}
	return who, nil
}

// unarmor reads an armored signature that fills the whole text. The library and encoding/pem look
// for the armor anywhere, but PROTOCOL.sshsig wants it to begin and end the file: what stands
// around it would be read by people and signed by nobody.
func unarmor(text []byte) (*sshsig.Signature, error) {
	if len(text) > signatureMax {
		return nil, fmt.Errorf("%d bytes long", len(text))
	}
	t := strings.ReplaceAll(string(text), "\r\n", "\n")
	if !strings.HasSuffix(t, "\n") {
		t += "\n"
	}
	body, begins := strings.CutPrefix(t, armorBegin)
	body, ends := strings.CutSuffix(body, armorEnd)
	if !begins || !ends {
		return nil, errors.New("something stands before or after the armor, or it is missing")
	}
	if strings.ContainsAny(body, "-: ") {
		return nil, errors.New("something other than base64 stands inside the armor")
	}
	block, rest := pem.Decode([]byte(t))
	if block == nil || len(bytes.TrimSpace(rest)) > 0 {
		return nil, errors.New("the armor does not hold base64")
	}
	return sshsig.ParseSignature(block.Bytes)
}

// allowedKey is one line of a list of allowed signers.
type allowedKey struct {
	principal  string
	namespaces []string // patterns; empty for any
	key        ssh.PublicKey
}

func (k allowedKey) allows(namespace string) bool {
	if len(k.namespaces) == 0 {
		return true
	}
	for _, pattern := range k.namespaces {
		if ok, err := path.Match(pattern, namespace); ok && err == nil {
			return true
		}
	}
	return false
}

// parseSigners reads lines `principals [options] keytype base64 [comment]` (ssh-keygen(1), ALLOWED
// SIGNERS).
func parseSigners(text []byte) ([]allowedKey, error) {
	if len(text) > signersMax {
		return nil, fmt.Errorf("allowed signers: %d bytes; at most %d are read", len(text), signersMax)
	}
	var keys []allowedKey
	n := 0
	for line := range strings.Lines(string(text)) {
		n++
		line = strings.TrimSpace(line)
		if line == "" || line[0] == '#' {
			continue
		}
		principals, rest, _ := strings.Cut(line, " ")
		if quoted, ok := strings.CutPrefix(line, `"`); ok {
			principals, rest, _ = strings.Cut(quoted, `"`)
		}
		key, _, options, _, err := ssh.ParseAuthorizedKey([]byte(strings.TrimSpace(rest)))
		if err != nil || principals == "" {
			return nil, fmt.Errorf("allowed signers: line %d is not `principal key-type key`", n)
		}
		k := allowedKey{principal: principals, key: key}
		for _, o := range options {
			name, value, _ := strings.Cut(o, "=")
			switch strings.ToLower(name) {
			case "namespaces":
				if strings.ContainsAny(value, `![]\`) {
					return nil, fmt.Errorf("allowed signers: line %d: only plain names, * and ? are read in namespaces", n)
				}
				k.namespaces = strings.Split(strings.Trim(value, `"`), ",")
			default:
				return nil, fmt.Errorf("allowed signers: line %d: the option %q is not read here; only namespaces is", n, name)
			}
		}
		keys = append(keys, k)
	}
	return keys, nil
}
