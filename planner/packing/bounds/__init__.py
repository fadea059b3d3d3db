"""What no plan can beat: proofs from counting, edges and chains, each valid for the laboratory itself."""
