#!/usr/bin/env bash
# Makes the small files in tests/seeds again: two tones and noise, 10 ms of linear samples and 0.1 s
# of coded ones. Needs ffmpeg; another version of it gives other, equally good files.
set -euo pipefail
cd "$(dirname "$0")/seeds"

make() { ffmpeg -v error -y -f lavfi -i "$sound" -bitexact -map_metadata -1 "$@"; }
tones='0.4*sin(2764.6*t)+0.1*(2*random(0)-1)|0.4*sin(3455.8*t)+0.1*(2*random(1)-1)'

sound="aevalsrc=$tones:s=48000:d=0.01"
make -c:a pcm_s16le wav16.wav
make -c:a pcm_s24le -ac 6 wav24_6ch.wav
make -c:a pcm_f32le wavf32.wav
make -c:a pcm_s24le -rf64 always rf64.wav
sed 's/^RF64/BW64/' rf64.wav >bw64.wav
make -c:a adpcm_ms adpcm.wav
make -c:a pcm_mulaw mulaw.wav
sox -D wav24_6ch.wav -B rifx.wav
make -c:a pcm_s24be aiff24.aiff
make -c:a pcm_f32be -f aiff aifc.aifc
make -c:a pcm_s24le caf.caf
make -c:a pcm_s24le mov24.mov
make -c:a pcm_s24le pcm.mkv

sound="aevalsrc=$tones:s=48000:d=0.1"
make -c:a alac -sample_fmt s16p alac.caf
make -c:a alac -sample_fmt s16p alac.m4a
make -c:a flac -sample_fmt s16 -frame_size 576 flac.flac
make -c:a flac -sample_fmt s16 -frame_size 576 flac.mkv
make -c:a flac -sample_fmt s16 -frame_size 576 -page_duration 1000 -f ogg oggflac.oga
make -c:a libvorbis -q:a 0 vorbis.ogg
make -c:a libvorbis -q:a 0 vorbis.webm
# Without -bitexact, which leaves delay and padding out of the info frame.
ffmpeg -v error -y -f lavfi -i "$sound" -c:a libmp3lame -b:a 64k mp3.mp3
make -c:a libmp3lame -b:a 64k -write_xing 0 -id3v2_version 0 bare.mp3
make -c:a mp2 -b:a 64k mp2.mp2
make -c:a libopus -b:a 64k -f ogg opus.opus
make -c:a libopus -b:a 64k opus.webm
make -c:a libopus -b:a 64k opus.mp4
make -c:a libopus -b:a 160k -ac 6 opus_6ch.mkv
make -c:a aac -b:a 64k aac.m4a
make -c:a aac -b:a 64k aac.aac
make -c:a aac -b:a 64k aac.mkv
make -c:a aac -b:a 64k -movflags frag_keyframe+empty_moov frag.mp4
ffmpeg -v error -y -f lavfi -i testsrc=d=0.1:s=32x32:r=25 -f lavfi -i "$sound" \
    -f lavfi -i sine=d=0.1:r=44100 -map 0 -map 1 -map 2 -bitexact -map_metadata -1 \
    -c:v mpeg4 -c:a aac -b:a 48k video.mp4
