"""Opens, stabilises, samples and writes film; knows nothing of bodies."""
