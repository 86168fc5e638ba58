"""Learning from closed jobs: files in, versions of networks proposed, judged and put in use."""
