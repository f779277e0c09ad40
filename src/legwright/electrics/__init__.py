"""Power and signals: battery, network, conductors, bus, harness."""
