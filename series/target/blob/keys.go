package blob

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"path/filepath"

	"github.com/aws/aws-sdk-go-v2/aws"
	"github.com/aws/aws-sdk-go-v2/config"

	"dropwright/series/target"
)

// Keys are what a store is opened with. They print as where they are from, never as what they are.
type Keys struct {
	From   string // for messages
	key    aws.Credentials
	region string
}

// String says where the keys are from.
func (k Keys) String() string { return k.From }

// GoString keeps %#v from printing more.
func (k Keys) GoString() string { return k.From }

// Identity tells whether two channels use one key, without saying which: a hash of the key's public half.
func (k Keys) Identity() [sha256.Size]byte {
	return sha256.Sum256([]byte("dropwright key identity\n" + k.key.AccessKeyID))
}

// NoKeys is a store that cannot be opened on this machine for want of a key, or of the region to sign for.
type NoKeys struct {
	Store, Why string
	hint       string // "" for that of a key
}

func (n *NoKeys) Error() string { return fmt.Sprintf("%s: %s", n.Store, n.Why) }

// Hint says what to do.
func (n *NoKeys) Hint() string {
	if n.hint != "" {
		return n.hint
	}
	return "write the key into a profile of ~/.aws/credentials and name it behind the bucket (profile=shelf), or set AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY; README, \"A store\", shows both"
}

// FindKeys finds a store's keys: with a profile in its address, in that profile of the store's settings files;
// else AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY and AWS_SESSION_TOKEN in the environment; else the profile that
// AWS_PROFILE names, or the one called default. The files are those that AWS_SHARED_CREDENTIALS_FILE and
// AWS_CONFIG_FILE name, or ~/.aws/credentials and ~/.aws/config. Nothing in the network is asked and no other
// program is started for them.
func FindKeys(s target.Store, getenv func(string) string, home string) (Keys, error) {
	region := firstOf(s.Region, getenv("AWS_REGION"), getenv("AWS_DEFAULT_REGION"))
	if s.Profile == "" && getenv("AWS_ACCESS_KEY_ID") != "" {
		k := Keys{From: "the environment", region: region, key: aws.Credentials{AccessKeyID: getenv("AWS_ACCESS_KEY_ID"), SecretAccessKey: getenv("AWS_SECRET_ACCESS_KEY"), SessionToken: getenv("AWS_SESSION_TOKEN")}}
		if k.key.SecretAccessKey == "" {
			return Keys{}, &NoKeys{Store: s.String(), Why: "AWS_ACCESS_KEY_ID is set and AWS_SECRET_ACCESS_KEY is not"}
		}
		return k, nil
	}
	profile := firstOf(s.Profile, getenv("AWS_PROFILE"), "default")
	files := func(variable, name string) []string {
		if f := getenv(variable); f != "" {
			return []string{f}
		}
		if home == "" {
			return []string{}
		}
		return []string{filepath.Join(home, ".aws", name)}
	}
	c, err := config.LoadSharedConfigProfile(context.Background(), profile, func(o *config.LoadSharedConfigOptions) {
		o.CredentialsFiles, o.ConfigFiles = files("AWS_SHARED_CREDENTIALS_FILE", "credentials"), files("AWS_CONFIG_FILE", "config")
	})
	var missing config.SharedConfigProfileNotExistError
	switch {
	case errors.As(err, &missing) && s.Profile == "":
		return Keys{}, &NoKeys{Store: s.String(), Why: "no key is known for this store: neither the environment nor the store's settings files hold one"}
	case errors.As(err, &missing):
		return Keys{}, &NoKeys{Store: s.String(), Why: fmt.Sprintf("the store's settings files have no profile %q", profile)}
	case err != nil:
		// The error of a parser may repeat a line, and the line may be a key.
		return Keys{}, &NoKeys{Store: s.String(), Why: fmt.Sprintf("the store's settings files cannot be read for profile %q: look at their form", profile)}
	case !c.Credentials.HasKeys():
		return Keys{}, &NoKeys{Store: s.String(), Why: fmt.Sprintf("profile %q holds no aws_access_key_id and aws_secret_access_key of its own: roles and sign-on are not followed", profile)}
	}
	return Keys{From: fmt.Sprintf("profile %q", profile), region: firstOf(region, c.Region), key: c.Credentials}, nil
}

func firstOf(words ...string) string {
	for _, w := range words {
		if w != "" {
			return w
		}
	}
	return ""
}
