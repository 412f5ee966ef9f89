# Kilter as one image: the board, the worker and the courier are commands of it.
FROM node:20-bookworm-slim AS build
# The driver of the database is compiled where no prebuilt one can be fetched.
RUN apt-get update && apt-get install -y --no-install-recommends python3 make g++ && rm -rf /var/lib/apt/lists/*
WORKDIR /app
COPY package.json package-lock.json ./
RUN npm ci --ignore-scripts && npm rebuild better-sqlite3
COPY tsconfig.json ./
COPY ingest ./ingest
COPY server ./server
COPY web ./web
RUN npm run build && npm prune --omit=dev --ignore-scripts

FROM node:20-bookworm-slim
ENV NODE_ENV=production
WORKDIR /app
COPY --from=build /app/package.json ./
COPY --from=build /app/node_modules ./node_modules
COPY --from=build /app/dist ./dist
# A named volume takes over who owns the folder it is mounted on.
RUN mkdir /data /queue && chown node:node /data /queue
VOLUME ["/data", "/queue"]
USER node
EXPOSE 8090
# SIGTERM stops everything in order within five seconds.
STOPSIGNAL SIGTERM
ENTRYPOINT ["node", "dist/server/kilter.js"]
CMD ["serve", "--config", "/config/kilter.yaml"]
